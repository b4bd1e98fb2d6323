"""The plate's temperature before a joint is opened: it was switched on long before somebody enters a joint.

Kept in memory alone: after a restart nothing is known of what was before, and nothing is said of it.
"""

from collections import deque
from dataclasses import asdict
from typing import Any

from logger.domain.heat_through import (
    EVERY_S,
    HeatStatus,
    PlateHeat,
    Zone,
    heat_status,
    heat_through,
    plate_heat_of,
    shifted,
)
from logger.domain.joint_plan import JointPlan
from logger.domain.record import Stamp, Statement
from logger.domain.sample import Sample
from logger.session.state import SessionState
from logger.wire.live import HeatThroughMessage

PLATE_HEAT = "plate_heat"
RECORDER = "recorder"
_KEPT_S = 7200.0


class PlateWatch:
    """The last two hours of the plate, one reading in five seconds, on the clock of the polls."""

    def __init__(self) -> None:
        self._seen: deque[tuple[float, float]] = deque(maxlen=int(_KEPT_S / EVERY_S))

    def read(self, sample: Sample) -> None:
        degC = sample.plate_temperature_degC
        if degC is None or (self._seen and 0 <= sample.t_s - self._seen[-1][0] < EVERY_S):
            return
        self._seen.append((sample.t_s, degC))

    def before(self, plan: JointPlan | None, epoch_s: float) -> PlateHeat | None:
        """What was seen so far for the band of this plan, on the clock that counts from `epoch_s`."""
        begun = None if plan is None else plate_heat_of(plan.plate_temperature_degC)
        heat = heat_through(begun, self._seen)
        return None if heat is None or heat.last_s is None else shifted(heat, -epoch_s)


def plate_statement(heat: PlateHeat, joint_uuid: str, at: Stamp) -> Statement:
    """Put what was seen before the joint was opened on record: a later judgement has no other way to know."""
    return Statement(
        kind=PLATE_HEAT, author=RECORDER, at=at, body=asdict(heat), joint_uuid=joint_uuid, at_s=0.0
    )


def plate_heat_from(body: dict[str, Any]) -> PlateHeat:
    """Read it back."""
    zone = body["zone"]
    return PlateHeat(**{**body, "zone": None if zone is None else Zone(zone)})


def heat_message(session: SessionState, now_s: float) -> HeatThroughMessage | None:
    """Where the plate stands, as long as it is still to be worked with: until the ends meet it."""
    plan = session.setting.plan
    if plan is None or session.tracked.phase is not None or session.released is not None:
        return None
    status: HeatStatus | None = heat_status(session.plate, plan.heat_through_s, now_s)
    if status is None:
        return None
    return HeatThroughMessage(
        heat=status.heat,
        gone_s=status.gone_s,
        needed_s=status.needed_s,
        source=status.source.text,
        mark=status.source.mark,
    )
