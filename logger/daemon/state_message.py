"""The recorder at one instant, as a message."""

from dataclasses import dataclass

from logger import __version__
from logger.daemon.open_record import OpenRecord
from logger.daemon.plate_watch import heat_message
from logger.daemon.surface_message import hand_surface, surface_message
from logger.domain.record import StoreHealth
from logger.domain.rig import Rig
from logger.phases.drag import Plateau
from logger.session.live import TimeLimit, live_of
from logger.session.state import SessionState
from logger.wire.live import (
    AlarmMessage,
    ChannelMessage,
    DragOfferMessage,
    EventMessage,
    HandSurfaceMessage,
    LimitMessage,
    StateMessage,
    StoreMessage,
)

OLD_S = 2.0
"""Pressure older than this is no ground for a figure to be followed; twice the slowest sampling."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """What the message is made of. `now_s` is on the clock of `session`; `pressure_age_s` None before any."""

    rig: Rig
    time_scale: float
    current: OpenRecord | None
    session: SessionState
    now_s: float
    pressure_age_s: float | None
    channels: tuple[ChannelMessage, ...]
    store: StoreHealth
    events: tuple[EventMessage, ...]
    alarms: tuple[AlarmMessage, ...]
    last: tuple[str | None, str, str] | None
    by_hand_before: tuple[HandSurfaceMessage, ...]
    """Readings of the plate's surface from before the open joint."""
    today: str
    """ISO date."""


def state_message(now: Now) -> StateMessage:
    """Put it into the words of the wire."""
    current, session = now.current, now.session
    age_s = now.pressure_age_s
    live = live_of(session, now.now_s, is_old=age_s is None or age_s > OLD_S)
    start, bead = live.start, live.bead
    last_joint, last_uuid, last_verdict = now.last or (None, None, None)
    plan = session.setting.plan
    return StateMessage(
        software=__version__,
        rig=now.rig.name,
        origin=now.rig.origin,
        time_scale=now.time_scale,
        joint=current.number if current else None,
        joint_uuid=current.uuid if current else None,
        attempt=current.attempt if current else None,
        phase=live.phase,
        phase_since_s=start.at_s if start else None,
        phase_early_s=start.early_s if start else None,
        phase_late_s=start.late_s if start else None,
        phase_u_s=start.u_s if start else None,
        now_s=now.now_s,
        unsure=live.unsure,
        limits=tuple(_limit(limit) for limit in live.limits),
        bead_by=bead.by if bead else None,
        bead_at_s=bead.at_s if bead else None,
        drag_bar=plan.drag_pressure_bar if plan else None,
        drag_offer=_offer(session.strokes.counts),
        channels=now.channels,
        store=_store(now.store, current),
        alarms=now.alarms,
        events=now.events,
        last_joint=last_joint,
        last_joint_uuid=last_uuid,
        last_verdict=last_verdict,
        heat_through=heat_message(session, now.now_s),
        plate_surface=surface_message(now.rig, now.today),
        surface_by_hand=(*hand_surface(session, now.now_s), *now.by_hand_before),
    )


def _store(health: StoreHealth, current: OpenRecord | None) -> StoreMessage:
    """The store, and the joint that it could not take yet."""
    waiting = len(current.samples) if current else 0
    error = health.error or (current.waits_for if current else "")
    return StoreMessage(error=error, pending=health.pending + waiting, dropped=health.dropped)


def _limit(limit: TimeLimit) -> LimitMessage:
    return LimitMessage(
        is_max=limit.is_max,
        step=limit.step,
        limit_s=limit.limit_s,
        from_s=limit.from_s,
        elapsed_s=limit.elapsed_s,
        remaining_s=limit.remaining_s,
        then=limit.then,
    )


def _offer(plateau: Plateau | None) -> DragOfferMessage | None:
    if plateau is None:
        return None
    return DragOfferMessage(
        pressure_bar=plateau.pressure_bar,
        spread_bar=plateau.spread_bar,
        breakaway_bar=plateau.breakaway_bar,
        at_s=plateau.at_s,
        is_closing_seen=plateau.is_closing_seen,
    )
