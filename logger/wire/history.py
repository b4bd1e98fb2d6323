"""Joints of the record, for whoever looks back; read only."""

from typing import Any, Literal

from pydantic import Field

from logger.wire.desk import StatementModel
from logger.wire.model import WireMessage, WireModel
from logger.wire.plan import PlanModel
from logger.wire.stream import SamplesMessage


class JointSummary(WireModel):
    """One line of the list. `verdict` is the original one of the curve, null while the joint is open."""

    uuid: str
    number: str | None
    project: str
    operator: str
    operator_badge: str = ""
    place: str = ""
    coordinates_deg: tuple[float, float] | None = None
    rig: str = ""
    software: str = ""
    overdue_calibrations: tuple[str, ...] = ()
    """Channels whose calibration was due before the day the joint was opened."""
    attempt: int
    previous_uuid: str | None
    procedure: str | None
    opened_utc: str
    utc_verified: bool
    ended: str | None
    verdict: str | None
    origin: str
    time_scale: float


class JointList(WireMessage):
    """A page of joints, opened last first; `is_more` says that others follow."""

    schema_: Literal["beadwatch.joints/1"] = Field(default="beadwatch.joints/1", alias="schema")
    joints: tuple[JointSummary, ...]
    is_more: bool


class RecordedEvent(WireModel):
    """One event of a joint as recorded while it ran."""

    kind: str
    code: str
    at_s: float | None
    parameters: dict[str, str | float]


class JointDetail(WireMessage):
    """One joint with its plan, what happened and what was said; its judgement has a route of its own."""

    schema_: Literal["beadwatch.joint/1"] = Field(default="beadwatch.joint/1", alias="schema")
    summary: JointSummary
    ended_reason: str
    claimed_by: str | None
    claim_reason: str | None
    plan: PlanModel | None
    rig: dict[str, Any]
    events: tuple[RecordedEvent, ...]
    statements: tuple[StatementModel, ...]


class HeadMessage(WireMessage):
    """The head of the record's chain, `chain:seq:hash`; kept elsewhere it witnesses all until then."""

    schema_: Literal["beadwatch.head/1"] = Field(default="beadwatch.head/1", alias="schema")
    head: str | None
    utc: str | None


class CurveMessage(WireMessage):
    """The curve of a joint: raw, or thinned to the least and greatest of each stretch, then `is_thinned`.

    A thinned curve leaves samples out and invents none; `first_seq` of its samples says nothing.
    """

    schema_: Literal["beadwatch.curve/1"] = Field(default="beadwatch.curve/1", alias="schema")
    is_thinned: bool
    sample_count: int
    samples: SamplesMessage
