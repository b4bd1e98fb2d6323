"""A TOML file that a person wrote, checked against a model; every error says file, line and key."""

import hashlib
import re
import tomllib
from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal, NoReturn, TypeVar, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError

from logger.config.fault_text import fault_text, near_text
from logger.errors import InputError

_LARGEST_BYTES = 1_000_000

Place = tuple[str | int, ...]
_Model = TypeVar("_Model", bound="FileModel")


class FileModel(BaseModel):
    """A table of a file: unknown keys are refused, values are frozen, numbers are finite."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Document:
    """The text of one TOML file and the line of each of its keys; `digest` is its SHA-256."""

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self.text = text
        self.digest = hashlib.sha256(text.encode()).hexdigest()
        try:
            self.tables: dict[str, Any] = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise _toml_error(str(error), text, file) from None
        self._line_of = _lines_of_keys(text.splitlines())

    def error(self, place: Place, message: str) -> InputError:
        """Return the error for the key at `place`, a path of tables, indices and keys."""
        return InputError(message, file=self.file, line=self.line_of(place), key=shown(place))

    def line_of(self, place: Place) -> int | None:
        """Return the line of the key, or of the nearest table above it that has one."""
        for length in range(len(place), 0, -1):
            line = self._line_of.get(place[:length])
            if line is not None:
                return line
        return None

    def checked(self, model: type[_Model], table: Any = None, above: Place = ()) -> _Model:
        """Check `table` (the whole document unless given) against `model`; raise the first error, located."""
        checked = self.tables if table is None else table
        try:
            return model.model_validate(checked)
        except ValidationError as error:
            self._raise_first(error, model, (checked, above))

    def _raise_first(
        self, error: ValidationError, model: type[BaseModel], checked: tuple[Any, Place]
    ) -> NoReturn:
        table, above = checked
        faults = sorted(error.errors(), key=lambda fault: fault["type"] != "extra_forbidden")
        fault = faults[0]
        place = _place_of(fault["loc"], table)
        if fault["type"] == "extra_forbidden":
            message = f"unknown key{_nearest_key(str(place[-1]), _keys_at(model, fault['loc'][:-1]))}"
        elif fault["type"] == "missing":
            is_entry = isinstance(fault["loc"][-1], int)
            message = "has too few entries" if is_entry else "required key is missing"
        elif fault["type"] in ("union_tag_invalid", "union_tag_not_found"):
            tag = str(fault["ctx"]["discriminator"]).strip("'")
            known, given = _tags(model, fault["loc"], tag), fault["ctx"].get("tag")
            said = "" if given is None else f", given {given!r}{near_text(given, known)}"
            place, message = (*place, tag), f"must be one of {', '.join(known)}{said}"
        else:
            message = fault_text(fault)
        raise self.error((*above, *place), message) from None


def read_document(path: Path) -> Document:
    """Read a TOML file.

    Raises:
        InputError: the file is missing, a directory, too large, not UTF-8 text or not TOML.
    """
    file = str(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(_LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise InputError("no such file", file=file) from None
    except IsADirectoryError:
        raise InputError("is a directory; a TOML file is needed", file=file) from None
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror}", file=file) from None
    if len(data) > _LARGEST_BYTES:
        raise InputError("is larger than 1 MB; a TOML text file is needed", file=file)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("is not UTF-8 text; a TOML text file is needed", file=file) from None
    if "\0" in text:
        raise InputError("is a binary file; a TOML text file is needed", file=file)
    return Document(text, file)


def _place_of(loc: Sequence[str | int], table: Any) -> Place:
    """Drop what pydantic adds to the path (a union's tag, a validator's name) and the table has not."""
    place: list[str | int] = []
    at = table
    for index, part in enumerate(loc):
        known = (isinstance(at, dict) and part in at) or (
            isinstance(at, list) and isinstance(part, int) and part < len(at)
        )
        if known:
            at = at[part]
        elif index < len(loc) - 1 or isinstance(part, int) or not isinstance(at, dict) or "[" in part:
            continue
        place.append(part)
    return tuple(place) or tuple(loc)


def shown(place: Place) -> str:
    """`("pipe", "a", "sdr")` as people write it: `[pipe.a] sdr`."""
    if len(place) < 2:
        return str(place[0]) if place else ""
    table = ".".join(str(part) if isinstance(part, str) else str(part + 1) for part in place[:-1])
    last = place[-1]
    return f"[{table}] {last if isinstance(last, str) else f'entry {last + 1}'}"


_HEADER = re.compile(r"""^\s*(\[\[?)\s*([A-Za-z0-9_\-."' ]+?)\s*\]\]?\s*(#.*)?$""")
_KEY = re.compile(r"""^\s*([A-Za-z0-9_\-."']+(?:\s*\.\s*[A-Za-z0-9_\-"']+)*)\s*=""")
_INLINE_KEY = re.compile(r"""[{,]\s*([A-Za-z0-9_\-]+)\s*=""")


def _lines_of_keys(lines: Sequence[str]) -> dict[Place, int]:
    found: dict[Place, int] = {}
    table: Place = ()
    count: dict[Place, int] = {}
    for number, line in enumerate(lines, start=1):
        header = _HEADER.match(line)
        if header:
            table = _parts(header.group(2))
            if header.group(1) == "[[":
                index = count.get(table, 0)
                count[table] = index + 1
                table = (*table, index)
            else:
                table = _inside_last(table, count)
            for length in range(1, len(table) + 1):
                found.setdefault(table[:length], number)
            continue
        key = _KEY.match(line)
        if key:
            place = (*table, *_parts(key.group(1)))
            found.setdefault(place, number)
            for inner in _INLINE_KEY.findall(line[key.end() :]):
                found.setdefault((*place, inner), number)
    return found


def _inside_last(table: Place, count: dict[Place, int]) -> Place:
    """`[step.x]` after `[[step]]` belongs to the last step."""
    for length in range(len(table) - 1, 0, -1):
        head = table[:length]
        if head in count:
            return (*head, count[head] - 1, *table[length:])
    return table


def _parts(dotted: str) -> Place:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _toml_error(fault: str, text: str, file: str) -> InputError:
    """Return the reader's fault in its own words, but for what stands twice, which is named as a key is."""
    line = _toml_line(fault, text)
    if fault.startswith(("Cannot overwrite a value", "Cannot declare")):
        lines = text.splitlines()[:line]
        header = next((found for one in reversed(lines) if (found := _HEADER.match(one))), None)
        table = () if header is None else _parts(header.group(2))
        key = _KEY.match(lines[-1]) if lines else None
        place = (*table, *_parts(key.group(1))) if key else table
        return InputError("stands twice; leave one out", file=file, line=line, key=shown(place))
    return InputError(f"is not TOML: {re.sub(r' *[(]at .*', '', fault)}", file=file, line=line)


def _toml_line(fault: str, text: str) -> int:
    match = re.search(r"at line (\d+)", fault)
    return int(match.group(1)) if match else max(1, len(text.splitlines()))


def _keys_at(model: type[BaseModel], loc: Sequence[str | int]) -> list[str]:
    return [_name(name, field) for one in _models_at(model, loc) for name, field in one.model_fields.items()]


def _models_at(model: type[BaseModel], loc: Sequence[str | int]) -> list[type[BaseModel]]:
    """Return the models that may stand at `loc`, pydantic's path, which names a union's tag as well."""
    models = [model]
    for part in loc:
        fields = [
            field for one in models for name, field in one.model_fields.items() if _name(name, field) == part
        ]
        inner = [found for field in fields for found in _models_in(field.annotation)]
        tagged = [one for one in models if part in _tag_values(one)]
        models = inner or tagged or models
    return models


def _tag_values(model: type[BaseModel]) -> list[Any]:
    return [
        value
        for field in model.model_fields.values()
        if get_origin(field.annotation) is Literal
        for value in get_args(field.annotation)
    ]


def _tags(model: type[BaseModel], loc: Sequence[str | int], tag: str) -> list[str]:
    values = [value for one in _models_at(model, loc) for value in get_args(one.model_fields[tag].annotation)]
    return [str(value) for value in values]


def _name(name: str, field: Any) -> str:
    return field.alias or name


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for inner in get_args(annotation) for found in _models_in(inner)]


def _nearest_key(key: str, keys: list[str]) -> str:
    near = get_close_matches(key, keys, n=1, cutoff=0.5)
    if near:
        return f"; did you mean {near[0]}?"
    return f"; known here: {', '.join(dict.fromkeys(keys))}"
