"""What the recorder answers to the screens around the joint: lists, plans, joints of the record."""

from logger.wire.entry import (
    ChoicesMessage,
    LastJoint,
    NextAttempt,
    PipeEntry,
    PlanAnswer,
    ProcedureChoice,
    SizeChoice,
)
from logger.wire.live import FieldError
from logger.wire.plan import plan_model
from tests.unit.tui.fake_link import plan

LAST = LastJoint(
    project="Lindmoor water main",
    operator="J. Tarrow",
    procedure="dvs-2207-1:2015",
    pipe=PipeEntry(material="PE100", outside_diameter="63 mm", sdr="11"),
    pipe_b=None,
)
CHOICES = ChoicesMessage(
    materials=("PE80", "PE100"),
    procedures=(
        ProcedureChoice(
            id="dvs-2207-1:2015", title="Heated tool butt", document="DVS 2207-1", edition="2015",
            materials=("PE80", "PE100"), marks=(),
        ),
    ),
    sizes=(SizeChoice(table="iso-4427", key="outside_diameter", sizes=("63 mm",), sdrs=(11.0, 17.0)),),
    wall_rules=("nominal", "entered"),
    kinds=("pipe", "fitting"),
    options=("workshop",),
    operators=("J. Tarrow", "R. Okafor"),
    projects=("Lindmoor water main",),
    last=LAST,
)  # fmt: skip


def planned(*, attempt: int = 1, missing: tuple[str, ...] = ()) -> PlanAnswer:
    """All is understood."""
    return PlanAnswer(
        plan=plan_model(plan()), missing=missing, errors=(), refusals=(), decidable=(),
        attempt=NextAttempt(
            attempt=attempt, previous_uuid=None, previous_verdict=None, previous_opened_utc=None
        ),
    )  # fmt: skip


def not_understood(field: str, message: str, *nearest: str) -> PlanAnswer:
    """One field is wrong."""
    error = FieldError(field=field, message=message, nearest=nearest)
    return PlanAnswer(plan=None, missing=(), errors=(error,), refusals=(), decidable=(), attempt=None)
