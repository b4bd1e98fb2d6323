"""`beadwatch init`: a commented rig file by questions, or from options alone."""

import shlex
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, say
from logger.config.formula import nearest
from logger.config.rig_file import rig_of
from logger.config.rig_template import rig_text
from logger.errors import InputError
from logger.wording.init_text import Question, questions
from logger.wording.integrator_text import FITTING_CAUTIONS


def init(
    rig_file: Annotated[Path, typer.Argument(metavar="RIG.toml", help="The file to write.")],
    given: Annotated[
        list[str] | None, typer.Option("--set", metavar="KEY=VALUE", help="An answer; may be repeated.")
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Take the default of every other question.")] = False,
    keys: Annotated[
        bool, typer.Option("--keys", help="List the questions with their keys and defaults.")
    ] = False,
) -> None:
    """Write a commented rig file. It is read as the recorder reads it before it is written."""
    if keys:
        out(f"{one.key:<33} {one.default:<23} {one.text}" for one in questions())
        return
    if rig_file.exists():
        raise InputError("is there already; nothing is overwritten", file=str(rig_file))
    say("\n".join(FITTING_CAUTIONS))
    answers = _answers(_given(given or []), yes)
    text = rig_text(answers)
    try:
        rig_of(text, str(rig_file), rig_file.parent)
    except InputError:
        given_again = " ".join(shlex.quote(f"--set={key}={value}") for key, value in answers.items() if value)
        say(f"nothing was written; to change one answer only: beadwatch init {rig_file} --yes {given_again}")
        raise
    with rig_file.open("x", encoding="utf-8") as stream:
        stream.write(text)
    out([str(rig_file)])
    say(f"next: beadwatch check {rig_file} --live")


def _given(pairs: list[str]) -> dict[str, str]:
    known = {question.key for question in questions()}
    found = {}
    for pair in pairs:
        key, equals, value = pair.partition("=")
        if not equals:
            raise InputError(f'"{pair}" is not KEY=VALUE', key="--set")
        if key not in known:
            raise InputError(f'unknown key "{key}"{nearest(key, sorted(known))}', key="--set")
        found[key] = value
    return found


def _answers(given: dict[str, str], take_defaults: bool) -> dict[str, str]:
    answers: dict[str, str] = {}
    for question in questions():
        if question.key in given:
            answers[question.key] = _chosen(question, given[question.key])
        elif not question.is_asked(answers):
            answers[question.key] = ""
        elif take_defaults:
            answers[question.key] = question.default
        else:
            answers[question.key] = _asked(question)
    unused = [key for key in given if not _by_key(key).is_asked(answers)]
    if unused:
        raise InputError(f'"{unused[0]}" has no meaning with the other answers', key="--set")
    return answers


def _by_key(key: str) -> Question:
    return next(question for question in questions() if question.key == key)


def _chosen(question: Question, value: str) -> str:
    if question.choices and value and value not in question.choices:
        near = nearest(value, list(question.choices))
        raise InputError(f'"{value}" is not one of {", ".join(question.choices)}{near}', key=question.key)
    return value


def _asked(question: Question) -> str:
    choices = f" ({', '.join(question.choices)})" if question.choices else ""
    while True:
        value = str(typer.prompt(f"{question.text}{choices}", default=question.default, err=True))
        try:
            return _chosen(question, value.strip())
        except InputError as error:
            say(str(error))
