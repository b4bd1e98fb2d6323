"""A joint as it is typed: checked field by field, planned as far as it goes, written as a joint.toml."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from logger.config.folders import procedure_folders
from logger.config.joint_file import joint_of, with_rig
from logger.config.procedures import available_procedures
from logger.domain.decidable import DecidableLimit
from logger.domain.joint_plan import JointPlan
from logger.domain.notices import RefusalCode
from logger.domain.procedure import MATERIALS, Procedure
from logger.domain.rig import Rig
from logger.errors import InputError, ProcedureRefusal
from logger.plan.compute import compute_plan
from logger.plan.decidable import decidable_limits
from logger.plan.rig_check import with_rig_remarks
from logger.wire.entry import JointEntry, PipeEntry
from logger.wire.live import FieldError

_NUMBERS = ("sdr", "melt_flow_rate")
_ANY_JOINT = "joint"
_HUGE = "100000 mm"
"""Stands in for a diameter while another field of the pipe is looked at by itself."""

Fields = Mapping[str, str]
"""What was typed by its name ("operator", "pipe.sdr", "pipe_b.code"), without what is empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What the typing comes to. `joint_toml` is there when a joint can be opened with it."""

    joint_toml: str | None = None
    plan: JointPlan | None = None
    missing: tuple[str, ...] = ()
    errors: tuple[FieldError, ...] = ()
    refusal: ProcedureRefusal | None = None
    decidable: tuple[DecidableLimit, ...] = ()


def typed(entry: JointEntry, rig: Rig) -> Typed:
    """Look at every field by itself, then at all of them together; nothing that is empty is an error."""
    known = available_procedures(procedure_folders())
    fields = _fields_of(entry)
    ends = ["pipe"] if entry.pipe_b is None else ["pipe", "pipe_b"]
    missing = tuple(_missing(fields, ends))
    errors = tuple(_errors(fields, entry.options, known))
    if errors or any(name not in ("joint", "operator") for name in missing):
        return Typed(missing=missing, errors=errors)
    text = _toml_of({"joint": _ANY_JOINT, **fields}, entry.options)
    try:
        joint = with_rig(joint_of(text, "entry", known), rig)
        plan = with_rig_remarks(compute_plan(joint, known[joint.procedure]), rig)
    except InputError as error:
        return Typed(missing=missing, errors=(_field_error(error),))
    except ProcedureRefusal as refusal:
        if refusal.code == RefusalCode.AMBIENT_MISSING:
            return Typed(missing=(*missing, "ambient_temperature"))
        return Typed(missing=missing, refusal=refusal)
    return Typed(
        joint_toml=None if missing else text,
        plan=plan,
        missing=missing,
        decidable=decidable_limits(plan, rig),
    )


def _fields_of(entry: JointEntry) -> dict[str, str]:
    own = entry.model_dump(exclude={"pipe", "pipe_b", "options", "ambient_instrument"})
    fields = {name: text for name, text in own.items() if text.strip()}
    for name, pipe in (("pipe", entry.pipe), ("pipe_b", entry.pipe_b)):
        fields |= {f"{name}.{key}": text for key, text in _typed_of(pipe).items()}
    return fields


def _typed_of(pipe: PipeEntry | None) -> dict[str, str]:
    return {key: text for key, text in pipe.model_dump().items() if text.strip()} if pipe else {}


def _missing(fields: Fields, ends: Sequence[str]) -> Iterator[str]:
    yield from (name for name in ("joint", "operator", "procedure") if name not in fields)
    for end in ends:
        if f"{end}.material" not in fields:
            yield f"{end}.material"
        if f"{end}.outside_diameter" not in fields and f"{end}.nominal_size" not in fields:
            yield f"{end}.outside_diameter"
        if f"{end}.sdr" not in fields and f"{end}.wall_thickness" not in fields:
            yield f"{end}.sdr"


def _errors(fields: Fields, options: Sequence[str], known: Mapping[str, Procedure]) -> Iterator[FieldError]:
    """Yield what is wrong with a field whatever the others say."""
    for name, text in fields.items():
        yield from _errors_in({name: text}, (), known)
    for option in options:
        yield from _errors_in({}, (option,), known)


def _errors_in(
    fields: Fields, options: Sequence[str], known: Mapping[str, Procedure]
) -> Iterator[FieldError]:
    """Put the field among others that cannot be at fault."""
    pipe = {"pipe.material": MATERIALS[0], "pipe.sdr": "11"}
    alone = {name.replace("pipe_b.", "pipe."): text for name, text in fields.items()}
    if "pipe.nominal_size" not in alone:
        pipe["pipe.outside_diameter"] = _HUGE
    if "pipe.wall_thickness" in alone:
        del pipe["pipe.sdr"]
    if "pipe.wall_rule" in alone:
        pipe["pipe.outside_diameter"] = "110 mm"
        if alone["pipe.wall_rule"] == "entered":
            pipe["pipe.wall_thickness"] = "10 mm"
    common = {"joint": _ANY_JOINT, "procedure": next(iter(known))}
    try:
        joint_of(_toml_of(common | pipe | alone, options), "entry", known)
    except InputError as error:
        found = _field_error(error)
        name = next(iter(fields), "options")
        yield FieldError(field=name, message=found.message, nearest=found.nearest)


def _field_error(error: InputError) -> FieldError:
    """Read field and nearest choices off an error of a joint file."""
    table, _, key = error.key.rpartition("] ")
    name = {"[pipe": f"pipe.{key}", "[pipe.a": f"pipe.{key}", "[pipe.b": f"pipe_b.{key}"}.get(table, key)
    message, nearest = error.message, ""
    for word in ("; nearest: ", "; known: "):
        if word in message:
            message, _, nearest = message.partition(word)
    return FieldError(field=name, message=message, nearest=tuple(nearest.split(", ")) if nearest else ())


def _toml_of(fields: Fields, options: Sequence[str]) -> str:
    """Write the fields as a joint.toml."""
    tables: dict[str, list[str]] = {"": [], "pipe": [], "pipe.a": [], "pipe.b": [], "rig": []}
    has_two_ends = any(name.startswith("pipe_b.") for name in fields)
    for name, text in fields.items():
        end, _, key = name.rpartition(".")
        if end:
            table = "pipe.b" if end == "pipe_b" else "pipe.a" if has_two_ends else "pipe"
            tables[table].append(f"{key} = {_value(key, text)}")
        elif name == "cylinder_area":
            tables["rig"].append(f"{name} = {_value(name, text)}")
        else:
            tables[""].append(f"{name} = {_value(name, text)}")
    if options:
        tables[""].append(f"options = [{', '.join(_quoted(option) for option in options)}]")
    parts = [
        "\n".join((*((f"[{table}]",) if table else ()), *lines)) for table, lines in tables.items() if lines
    ]
    return "\n\n".join(parts) + "\n"


def _value(key: str, text: str) -> str:
    """A number stays one; anything else is text, and what is wrong with it is told by the joint file."""
    if key in _NUMBERS:
        try:
            return repr(float(text))
        except ValueError:
            pass
    return _quoted(text.strip())


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
