"""What somebody says of the open joint and what then governs it, as the record keeps it."""

from collections.abc import Iterable

from logger.domain.hand_reading import HandReading
from logger.domain.joint_plan import JointPlan
from logger.domain.record import Stamp, Statement
from logger.wire.plan import plan_from_json, plan_to_json

DRAG = "drag"
BEAD = "bead"
AMBIENT = "ambient"
OPINION = "opinion"
PLATE_READING = "plate_reading"


def drag_statement(
    pressure_bar: float, offered_bar: float | None, plan: JointPlan, *, by: str, at: Stamp
) -> Statement:
    """The confirmed drag, with the plan that follows it: a later judgement needs no procedure file."""
    body = {"pressure_bar": pressure_bar, "offered_bar": offered_bar, "plan_json": plan_to_json(plan)}
    return Statement(kind=DRAG, author=by, at=at, body=body)


def bead_statement(*, by: str, at: Stamp) -> Statement:
    """The bead was seen all round."""
    return Statement(kind=BEAD, author=by, at=at, body={})


def governing_plan(plan_json: str | None, statements: Iterable[Statement]) -> JointPlan | None:
    """The plan a stored joint is judged by: that of the drag or ambient stated last, else of its opening."""
    texts = [
        str(said.body["plan_json"])
        for said in statements
        if said.kind in (DRAG, AMBIENT) and "plan_json" in said.body
    ]
    text = texts[-1] if texts else plan_json
    return None if text is None else plan_from_json(text)


def hand_readings(statements: Iterable[Statement]) -> tuple[HandReading, ...]:
    """Readings of the plate said while the joint was open, with their uncertainty; others decide nothing."""
    return tuple(
        HandReading(
            temperature_degC=float(said.body["temperature_degC"]),
            u_degC=float(said.body["u_degC"]),
            face=str(said.body["face"]),
            taken_at_s=float(said.body["taken_at_s"]),
            instrument=str(said.body.get("instrument", "")),
        )
        for said in statements
        if said.kind == PLATE_READING and said.at_s is not None and "u_degC" in said.body
    )


def latest(kind: str, statements: Iterable[Statement]) -> Statement | None:
    """The last statement of one kind."""
    found = [said for said in statements if said.kind == kind]
    return found[-1] if found else None
