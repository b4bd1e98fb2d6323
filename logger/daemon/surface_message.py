"""How old the readings of the plate's surface are, and how far it lies from the built-in sensor."""

from dataclasses import dataclass
from statistics import fmean

from logger.domain.channel import is_overdue
from logger.domain.hand_reading import HandReading
from logger.domain.plate_surface import age_days
from logger.domain.rig import Rig
from logger.session.state import SessionState
from logger.wire.live import FaceMessage, HandSurfaceMessage, SurfaceMessage

AROUND_S = 5.0
"""The built-in sensor is averaged so long before and after a reading by hand."""
KEPT_S = 4 * 3600.0
"""A reading is told of so long after it was taken, a choice: over night a plate is cold."""


@dataclass(frozen=True, slots=True)
class _Kept:
    """What a reading was when its joint ended, and when that was on the recorder's clock."""

    message: HandSurfaceMessage
    ended_s: float


class HandSurfaces:
    """The readings by hand of the last joint that had any, for the joints after it.

    They are shown and no more: what a joint is judged by is read during that joint. Kept in memory alone, as
    the plate's temperature before a joint is.
    """

    def __init__(self) -> None:
        self._kept: tuple[_Kept, ...] = ()

    def keep(self, session: SessionState, now_s: float, mono_s: float) -> None:
        """Take those of a joint that ends at `now_s` of its own clock, `mono_s` of the recorder's."""
        found = hand_surface(session, now_s)
        if found:
            self._kept = tuple(_Kept(message, mono_s) for message in found)

    def before(self, session: SessionState, mono_s: float) -> tuple[HandSurfaceMessage, ...]:
        """Those that a joint in preparation may be told of: none once it has one of its own."""
        has_own = bool(session.setting.plate_known.hand_readings)
        if has_own or session.tracked.phase is not None or session.released is not None:
            return ()
        aged = (
            one.message.model_copy(
                update={"age_s": one.message.age_s + mono_s - one.ended_s, "is_before_joint": True}
            )
            for one in self._kept
        )
        return tuple(message for message in aged if message.age_s <= KEPT_S)


def surface_message(rig: Rig, today: str) -> SurfaceMessage | None:
    """Put the readings of the rig file into the words of the wire; None where it has none."""
    check = rig.plate_surface
    if check is None:
        return None
    return SurfaceMessage(
        instrument=check.instrument,
        measured_on=check.measured_on,
        age_days=age_days(check, today),
        due=check.due,
        due_source=check.due_source.text,
        due_mark=check.due_source.mark,
        is_overdue=is_overdue(check.due, today),
        faces=tuple(
            FaceMessage(face=one.face, offset_K=one.offset_K, spread_K=one.spread_K) for one in check.faces
        ),
    )


def hand_surface(session: SessionState, now_s: float) -> tuple[HandSurfaceMessage, ...]:
    """The last reading by hand of each face of this joint, with its age and what the sensor showed then."""
    last = {one.face: one for one in session.setting.plate_known.hand_readings}
    return tuple(_hand(session, one, now_s) for one in last.values())


def _hand(session: SessionState, one: HandReading, now_s: float) -> HandSurfaceMessage:
    around = session.samples.between(one.taken_at_s - AROUND_S, one.taken_at_s + AROUND_S)
    built_in = [s.plate_temperature_degC for s in around if s.plate_temperature_degC is not None]
    return HandSurfaceMessage(
        face=one.face,
        instrument=one.instrument,
        temperature_degC=one.temperature_degC,
        age_s=now_s - one.taken_at_s,
        offset_K=one.temperature_degC - fmean(built_in) if built_in else None,
    )
