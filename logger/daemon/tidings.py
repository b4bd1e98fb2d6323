"""What happened, as the list of events and the record keep it: a code, a time and parameters."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from logger.domain.event import (
    BeadConfirmed,
    BeadNotConfirmed,
    BoundaryRevised,
    DragConfirmed,
    DragOffered,
    DragWithdrawn,
    JointEnded,
    PhaseChanged,
)
from logger.domain.record import EventKind

Told = (
    PhaseChanged
    | BoundaryRevised
    | DragOffered
    | DragWithdrawn
    | DragConfirmed
    | BeadConfirmed
    | BeadNotConfirmed
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tidings:
    """`code` is that of the list of events; the record's own code of a phase is the phase alone."""

    kind: EventKind
    code: str
    record_code: str
    at_s: float
    parameters: Mapping[str, str | float] = field(default_factory=dict)


def tidings_of(event: Told) -> Tidings:
    """Say it in codes and numbers; what is not known is left out."""
    match event:
        case PhaseChanged():
            phase = event.after or "none"
            parameters: dict[str, str | float] = {"cause": event.cause, "seen_at_s": event.seen_at_s}
            if event.before is not None:
                parameters["before"] = event.before
            if event.withdrawn:
                parameters["withdrawn"] = "yes"
            return Tidings(
                kind=EventKind.PHASE,
                code=f"phase.{phase}",
                record_code=phase,
                at_s=event.at_s,
                parameters=parameters,
            )
        case BoundaryRevised():
            boundary = f"{event.phase}.{event.edge}"
            return _tidings(
                EventKind.PHASE, "phase.revised", event.to_s if event.to_s is not None else event.from_s,
                phase=event.phase, boundary=boundary, from_s=event.from_s, to_s=event.to_s, u_s=event.u_s,
                seen_at_s=event.seen_at_s, reason=event.reason or None,
            )  # fmt: skip
        case DragOffered():
            return _tidings(
                EventKind.PHASE, "drag.offered", event.at_s, pressure_bar=event.pressure_bar,
                spread_bar=event.spread_bar, breakaway_bar=event.breakaway_bar,
                closing_stroke="seen" if event.is_closing_seen else "not seen", seen_at_s=event.seen_at_s,
            )  # fmt: skip
        case DragWithdrawn():
            return _tidings(EventKind.PHASE, "drag.withdrawn", event.at_s, pressure_bar=event.pressure_bar)
        case DragConfirmed():
            return _tidings(
                EventKind.COMMAND, "drag.confirmed", event.at_s, pressure_bar=event.pressure_bar, by=event.by,
                offered_bar=event.offered_bar, phase=event.phase or "preparation",
            )  # fmt: skip
        case BeadConfirmed():
            return _tidings(EventKind.COMMAND, "bead.confirmed", event.at_s, by=event.by)
        case BeadNotConfirmed():
            return _tidings(EventKind.PHASE, "bead.not_confirmed", event.at_s)


def end_parameters(event: JointEnded) -> dict[str, str | float]:
    """How a joint ended, and the verdict of its curve."""
    judgement = event.judgement
    return {
        "joint": judgement.joint or "",
        "how": event.how,
        "reason": event.reason,
        "verdict": judgement.verdict.value,
    }


def _tidings(kind: EventKind, code: str, at_s: float, **parameters: str | float | None) -> Tidings:
    known = {key: value for key, value in parameters.items() if value is not None}
    return Tidings(kind=kind, code=code, record_code=code, at_s=at_s, parameters=known)
