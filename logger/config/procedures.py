"""Procedure files: the built-in ones in `configs/procedures`, and those of a company's own folder."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import Path

from logger.config.formula import nearest
from logger.config.procedure_reader import preparation_from, procedure_from
from logger.config.toml_file import Document, read_document
from logger.domain.procedure import PreparationCode, PreparationRule, Procedure
from logger.errors import InputError


def available_procedures(folders: Sequence[Path] = ()) -> dict[str, Procedure]:
    """Return every procedure by id: the built-in ones, then those of `folders` (`*.toml`).

    Raises:
        InputError: a file is wrong, or two files carry the same id; nothing overrides silently.
    """
    found = dict(_built_in())
    for folder in folders:
        if not folder.is_dir():
            raise InputError("is not a folder of procedure files", file=str(folder))
        for path in sorted(folder.glob("*.toml")):
            procedure = read_procedure(path)
            if procedure.id in found:
                other = found[procedure.id].file
                raise InputError(
                    f'"{procedure.id}" is already the id of {other}; give it an id of its own',
                    file=str(path), key="id",
                )  # fmt: skip
            found[procedure.id] = procedure
    return found


def load_procedure(procedure_id: str, folders: Sequence[Path] = ()) -> Procedure:
    """Return one procedure. Raises InputError with the nearest ids when there is none of that name."""
    found = available_procedures(folders)
    if procedure_id not in found:
        raise InputError(f'unknown procedure "{procedure_id}"{nearest(procedure_id, sorted(found))}')
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
