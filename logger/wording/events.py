"""What happened, in words: phases as they begin, joints as they end."""

from logger.domain.event import JointEnded, PhaseChanged
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


def phase_text(event: PhaseChanged) -> str:
    """One change of the live phase."""
    if event.withdrawn:
        before = PHASE_NAMES[event.before] if event.before else "preparation"
        now = PHASE_NAMES[event.after] if event.after else "preparation"
        return f"{now}: the {before} before it was called in error ({event.cause.replace('_', ' ')})"
    if event.after is None:
        return "released" if event.before is Phase.COOLING else "joint given up"
    return f"{PHASE_NAMES[event.after]} begins"


def ended_text(event: JointEnded) -> str:
    """The end of a joint with the verdict of its curve."""
    verdict = VERDICT_NAMES[event.judgement.verdict]
    how = event.how if not event.reason else f"{event.how} ({event.reason})"
    return (
        f"joint {event.judgement.joint or 'without a name'} {how}; verdict of the recorded curve: {verdict}"
    )
