"""A joint as it is typed, field by field, and the plan as far as it goes."""

from typing import Literal

from pydantic import Field

from logger.domain.decidable import LimitQuantity
from logger.domain.phase import Phase
from logger.domain.source import Mark
from logger.wire.live import FieldError
from logger.wire.model import WireMessage, WireModel
from logger.wire.plan import PlanModel


class PipeEntry(WireModel):
    """One pipe end as typed, quantities as text with a unit; empty where nothing was typed."""

    material: str = ""
    outside_diameter: str = ""
    nominal_size: str = ""
    sdr: str = ""
    wall_thickness: str = ""
    wall_rule: str = ""
    dimension_table: str = ""
    kind: str = ""
    melt_flow_rate: str = ""
    core_diameter: str = ""
    out_of_round: str = ""
    code: str = ""


class JointEntry(WireModel):
    """A joint as typed so far, keys as in joint.toml. `pipe_b` is null where both ends are alike."""

    joint: str = ""
    operator: str = ""
    project: str = ""
    procedure: str = ""
    ambient_temperature: str = ""
    ambient_instrument: str = ""
    drag_pressure: str = ""
    cylinder_area: str = ""
    options: tuple[str, ...] = ()
    pipe: PipeEntry = PipeEntry()
    pipe_b: PipeEntry | None = None


class RefusalModel(WireModel):
    """The procedure does not cover this joint: code, parameters and the words."""

    code: str
    parameters: dict[str, str | float]
    message: str


class DecidableModel(WireModel):
    """One limit of the plan and whether this rig's sensors can decide it; null where that cannot be said."""

    phase: Phase | None
    step: int | None
    quantity: LimitQuantity
    unit: str
    room: float | None
    guard: float | None
    is_decided: bool | None
    smallest_diameter_mm: float | None


class NextAttempt(WireModel):
    """What a joint of this number would be: attempt 1, or one more than the last, which it is linked to."""

    attempt: int
    previous_uuid: str | None
    previous_verdict: str | None
    previous_opened_utc: str | None


class PlanAnswer(WireMessage):
    """What the typing comes to.

    `missing` names the fields that are needed and empty (`pipe.material`); a joint can be opened when both
    `missing` and `errors` are empty and nothing is refused. `plan` is there once pipe and procedure are.
    """

    schema_: Literal["beadwatch.plan-answer/1"] = Field(default="beadwatch.plan-answer/1", alias="schema")
    plan: PlanModel | None
    missing: tuple[str, ...]
    errors: tuple[FieldError, ...]
    refusals: tuple[RefusalModel, ...]
    decidable: tuple[DecidableModel, ...]
    attempt: NextAttempt | None


class ProcedureChoice(WireModel):
    """One procedure; `marks` are those of its values, worst known first."""

    id: str
    title: str
    document: str
    edition: str
    materials: tuple[str, ...]
    marks: tuple[Mark, ...]


class SizeChoice(WireModel):
    """One table of pipe sizes: `sizes` as `outside_diameter` or `nominal_size` takes them."""

    table: str
    key: Literal["outside_diameter", "nominal_size"]
    sizes: tuple[str, ...]
    sdrs: tuple[float, ...]


class LastJoint(WireModel):
    """What the joint before offers: pipe, procedure, project, operator; nothing that was measured."""

    project: str
    operator: str
    procedure: str
    pipe: PipeEntry
    pipe_b: PipeEntry | None


class ChoicesMessage(WireMessage):
    """Pick lists for the entry of a joint."""

    schema_: Literal["beadwatch.choices/1"] = Field(default="beadwatch.choices/1", alias="schema")
    materials: tuple[str, ...]
    procedures: tuple[ProcedureChoice, ...]
    sizes: tuple[SizeChoice, ...]
    wall_rules: tuple[str, ...]
    kinds: tuple[str, ...]
    options: tuple[str, ...]
    operators: tuple[str, ...]
    projects: tuple[str, ...]
    last: LastJoint | None
