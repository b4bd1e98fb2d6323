"""What happened, in words: phases as they begin, boundaries as they move, joints as they end."""

from logger.domain.event import (
    BeadConfirmed,
    BeadNotConfirmed,
    BoundaryRevised,
    DragConfirmed,
    DragOffered,
    DragWithdrawn,
    Event,
    JointEnded,
    PhaseChanged,
)
from logger.domain.judgement import Verdict
from logger.domain.phase import Phase
from logger.domain.rig import Origin

PHASE_NAMES: dict[Phase, str] = {
    Phase.BEAD_UP: "bead-up",
    Phase.HEAT_SOAK: "heat soak",
    Phase.CHANGEOVER: "changeover",
    Phase.PRESSURE_BUILD_UP: "pressure build-up",
    Phase.COOLING: "cooling",
}

VERDICT_NAMES: dict[Verdict, str] = {
    Verdict.CONFORMING: "conforming",
    Verdict.NONCONFORMING: "NOT conforming",
    Verdict.UNDECIDED: "undecided",
}

ORIGIN_NOTES: dict[Origin, str] = {
    Origin.LIVE: "",
    Origin.REPLAY: "replay of a recorded file",
    Origin.SIMULATED: "SIMULATED, a demonstration: no pipe was joined",
    Origin.IMPORTED_FILE: "imported file, unsealed input",
}

REFUSALS: dict[str, str] = {
    "joint_over": "the joint is over",
    "no_plan": "this joint has no plan that a drag could govern",
    "too_late": "the plate has been left: the drag of a joint is fixed before that",
    "no_bead_up": "no bead-up is on: there is no bead to confirm",
    "bead_confirmed": "the bead is confirmed already",
}
"""Why a word about the open joint is not taken."""


def event_text(event: Event) -> str:
    """One line for people."""
    match event:
        case PhaseChanged():
            return phase_text(event)
        case BoundaryRevised():
            return _revision_text(event)
        case DragOffered():
            return _offer_text(event)
        case DragWithdrawn():
            return f"drag of {event.pressure_bar:.1f} bar no longer offered: facing or pressing followed it"
        case DragConfirmed():
            beside = (
                "" if event.offered_bar is None else f"; {event.offered_bar:.1f} bar was read off the trace"
            )
            return f"drag {event.pressure_bar:.1f} bar confirmed by {event.by}{beside}"
        case BeadConfirmed():
            return f"bead all round seen by {event.by}"
        case BeadNotConfirmed():
            return "plate left, bead not confirmed"
        case JointEnded():
            return ended_text(event)


def phase_text(event: PhaseChanged) -> str:
    """One change of the live phase."""
    if event.withdrawn:
        before = PHASE_NAMES[event.before] if event.before else "preparation"
        now = PHASE_NAMES[event.after] if event.after else "preparation"
        return f"{now}: the {before} before it was called in error ({event.cause.replace('_', ' ')})"
    if event.after is None:
        return "released" if event.before is Phase.COOLING else "joint given up"
    return f"{PHASE_NAMES[event.after]} begins"


def _revision_text(event: BoundaryRevised) -> str:
    what = f"{event.edge} of {PHASE_NAMES[event.phase]}"
    if event.to_s is None or event.u_s is None:
        return f"{what}, called at {event.from_s:.2f} s, was not seen ({event.reason.replace('_', ' ')})"
    return f"{what} moved by {event.to_s - event.from_s:+.2f} s to {event.to_s:.2f} s ± {2 * event.u_s:.2f} s"


def _offer_text(event: DragOffered) -> str:
    breakaway = "" if event.breakaway_bar is None else f", breakaway {event.breakaway_bar:.1f} bar"
    seen = "" if event.is_closing_seen else "; no carriage position: make sure that it was a closing stroke"
    return (
        f"drag read off the last stroke: {event.pressure_bar:.1f} bar, spread {event.spread_bar:.1f} bar"
        f"{breakaway}{seen}"
    )


def ended_text(event: JointEnded) -> str:
    """The end of a joint with the verdict of its curve."""
    verdict = VERDICT_NAMES[event.judgement.verdict]
    how = event.how if not event.reason else f"{event.how} ({event.reason})"
    return (
        f"joint {event.judgement.joint or 'without a name'} {how}; verdict of the recorded curve: {verdict}"
    )
