"""The fields of a joint's entry: names, examples, choices, and the message they make. Pure."""

from collections.abc import Mapping

from logger.wire.entry import ChoicesMessage, JointEntry, PipeEntry
from tui.catalogue import tr
from tui.widgets.form import Choice, Field

PIPE, PIPE_B = "pipe.", "pipe_b."
OF_ONE_JOINT = (
    "joint", "ambient_temperature", "ambient_instrument", "pipe.code", "pipe_b.code", "pipe.out_of_round",
    "pipe_b.out_of_round",
)  # fmt: skip
"""Read off, measured or given for one joint: never carried over."""


def fields() -> tuple[Field, ...]:
    return (
        Field(key="joint", name=tr("joint number"), is_needed=True),
        Field(key="operator", name=tr("operator"), is_needed=True),
        Field(key="project", name=tr("project")),
        Field(key="procedure", name=tr("procedure"), is_needed=True),
        *_pipe_fields(PIPE, ""),
        *_pipe_fields(PIPE_B, " B"),
        Field(key="ambient_temperature", name=tr("ambient at the joint"), hint=_like("18 degC")),
        Field(key="ambient_instrument", name=tr("its thermometer")),
        Field(key="options", name=tr("options")),
        Field(key="cylinder_area", name=tr("piston area"), hint=tr("only where the rig file has none")),
    )


def _like(example: str) -> str:
    """Said to be an example: nothing measured may look as if it were filled in."""
    return tr("such as {example}", example=example)


def _pipe_fields(end: str, side: str) -> tuple[Field, ...]:
    return (
        Field(key=f"{end}material", name=tr("material") + side, is_needed=True),
        Field(key=f"{end}outside_diameter", name=tr("outside diameter") + side, hint=_like("110 mm")),
        Field(key=f"{end}nominal_size", name=tr("or nominal size") + side, hint=_like("IPS 4")),
        Field(key=f"{end}sdr", name=tr("SDR") + side, hint=_like("11")),
        Field(key=f"{end}wall_thickness", name=tr("or wall thickness") + side, hint=_like("10 mm")),
        Field(key=f"{end}wall_rule", name=tr("wall by") + side),
        Field(key=f"{end}dimension_table", name=tr("table of sizes") + side),
        Field(key=f"{end}kind", name=tr("pipe or fitting") + side),
        Field(key=f"{end}melt_flow_rate", name=tr("melt flow rate") + side, hint=_like("0.3")),
        Field(key=f"{end}core_diameter", name=tr("core diameter") + side),
        Field(key=f"{end}out_of_round", name=tr("out of round") + side, hint=_like("0.5 mm")),
        Field(key=f"{end}code", name=tr("code on the pipe") + side),
    )


def offers_of(choices: ChoicesMessage) -> dict[str, tuple[Choice, ...]]:
    procedures = tuple(Choice(value=p.id, text=f"{p.id}  {p.title}") for p in choices.procedures)
    sizes = {"outside_diameter": list[str](), "nominal_size": list[str]()}
    for table in choices.sizes:
        sizes[table.key] += [size for size in table.sizes if size not in sizes[table.key]]
    sdrs = sorted({sdr for table in choices.sizes for sdr in table.sdrs})
    of_pipe = {
        "material": choices.materials,
        **sizes,
        "sdr": [f"{sdr:g}" for sdr in sdrs],
        "wall_rule": choices.wall_rules,
        "dimension_table": [table.table for table in choices.sizes],
        "kind": choices.kinds,
    }
    plain = {
        "operator": choices.operators,
        "project": choices.projects,
        "options": choices.options,
        **{f"{end}{key}": values for end in (PIPE, PIPE_B) for key, values in of_pipe.items()},
    }
    offered = {key: tuple(Choice(value=v, text=v) for v in values) for key, values in plain.items()}
    return {"procedure": procedures, **offered}


def entry_of(answers: Mapping[str, str], *, has_two_ends: bool) -> JointEntry:
    own = {key: text for key, text in answers.items() if "." not in key and key != "options"}
    ends = {
        end: PipeEntry(
            **{key.removeprefix(end): text for key, text in answers.items() if key.startswith(end)}
        )
        for end in (PIPE, PIPE_B)
    }
    options = tuple(part.strip() for part in answers["options"].split(",") if part.strip())
    return JointEntry(**own, options=options, pipe=ends[PIPE], pipe_b=ends[PIPE_B] if has_two_ends else None)
