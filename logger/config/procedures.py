"""Procedure files: the built-in ones in `configs/procedures`, and those of a company's own folder."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import Path

from logger.config.formula import nearest
from logger.config.procedure_reader import preparation_from, procedure_from
from logger.config.toml_file import Document, read_document
from logger.domain.procedure import PreparationCode, PreparationRule, Procedure
from logger.errors import InputError

_ID = re.compile(r'^\s*id\s*=\s*"([^"]+)"', re.MULTILINE)


class Procedures(dict[str, Procedure]):
    """Procedures by id. A file that is wrong takes only its own procedure away: `refused` says why, by id.

    Where not even the id of a file can be read, the name of the file stands in its place.
    """

    def __init__(self, found: Mapping[str, Procedure]) -> None:
        super().__init__(found)
        self.refused: dict[str, InputError] = {}

    def refuse(self, procedure_id: str, error: InputError) -> None:
        self.pop(procedure_id, None)
        self.refused.setdefault(procedure_id, error)


def available_procedures(folders: Sequence[Path] = ()) -> Procedures:
    """Return every procedure by id: the built-in ones, then those of `folders` (`*.toml`).

    Nothing overrides silently: where two files carry one id, that id is refused.

    Raises:
        InputError: a folder is not there.
    """
    found = Procedures(_built_in())
    for folder in folders:
        if not folder.is_dir():
            raise InputError("is not a folder of procedure files", file=str(folder))
        for path in sorted(folder.glob("*.toml")):
            _add(found, path)
    return found


def _add(found: Procedures, path: Path) -> None:
    try:
        procedure = read_procedure(path)
    except InputError as error:
        found.refuse(_id_in(path), error)
        return
    other = found.get(procedure.id)
    if other is not None or procedure.id in found.refused:
        named = other.file if other else found.refused[procedure.id].file
        message = f'"{procedure.id}" is already the id of {named}; give it an id of its own'
        found.refuse(procedure.id, InputError(message, file=str(path), key="id"))
        return
    found[procedure.id] = procedure


def _id_in(path: Path) -> str:
    """The id that a wrong file gives itself, else its name."""
    try:
        named = _ID.search(path.read_text(encoding="utf-8-sig", errors="replace"))
    except OSError:
        named = None
    return named[1] if named else path.name


def check_known(procedure_id: str, known: Collection[str]) -> str:
    """Say what is wrong with an id, with the nearest choices; empty where it is known.

    Raises:
        InputError: the file of that procedure is wrong.
    """
    if procedure_id in known:
        return ""
    refused = known.refused if isinstance(known, Procedures) else {}
    if procedure_id in refused:
        raise refused[procedure_id]
    beside = "".join(f"; a file was refused: {error}" for error in refused.values())
    return f'unknown procedure "{procedure_id}"{nearest(procedure_id, sorted(known))}{beside}'


def load_procedure(procedure_id: str, folders: Sequence[Path] = ()) -> Procedure:
    """Return one procedure. Raises InputError with the nearest ids when there is none of that name."""
    found = available_procedures(folders)
    unknown = check_known(procedure_id, found)
    if unknown:
        raise InputError(unknown)
    return found[procedure_id]


@cache
def _built_in() -> dict[str, Procedure]:
    folder = resources.files("configs") / "procedures"
    found: dict[str, Procedure] = {}
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.name.endswith(".toml"):
            procedure = procedure_of(entry.read_text(encoding="utf-8"), f"built-in {entry.name}")
            found[procedure.id] = procedure
    return found


def read_procedure(path: Path) -> Procedure:
    """Read one procedure file. Raises InputError naming file, key and line."""
    return _prepared(procedure_from(read_document(path)))


def procedure_of(text: str, file: str) -> Procedure:
    """Read a procedure from text; `file` is what errors and the record call it."""
    return _prepared(procedure_from(Document(text, file)))


def _prepared(procedure: Procedure) -> Procedure:
    """Add the common preparation limits that the procedure has none of its own for."""
    rules = {rule.code: rule for rule in (*_common_preparation(), *procedure.preparation)}
    ordered = tuple(rules[code] for code in PreparationCode if code in rules)
    return replace(procedure, preparation=ordered)


@cache
def _common_preparation() -> tuple[PreparationRule, ...]:
    text = (resources.files("configs") / "preparation.toml").read_text(encoding="utf-8")
    return preparation_from(Document(text, "built-in preparation.toml"))
