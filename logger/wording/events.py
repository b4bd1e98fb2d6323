"""What happened, in words: phases as they begin, boundaries as they move, joints as they end.

An event is a code and parameters (`daemon/tidings.py` gives those of the session), so that a monitor in
another language says the same of it as the recorder.
"""

from collections.abc import Callable, Mapping

from logger.domain.judgement import Verdict
from logger.domain.phase import Phase
from logger.domain.place_error import half_interval
from logger.domain.rig import Origin
from logger.wording.language import say
from logger.wording.reasons import ending_text

Parameters = Mapping[str, str | float]

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

CHANNEL_NAMES = {
    "pressure": "pressure",
    "plate_temperature": "plate",
    "carriage": "carriage",
    "plate_in": "plate switch",
    "pressure_2": "second pressure",
    "plate_temperature_2": "second plate sensor",
}
_CHANNEL_STATES = {
    "waiting": "waits",
    "present": "present",
    "lost": "lost",
    "still_lost": "still lost, now",
    "ended": "ended",
}
_EDGES = {"start": "start of {phase}", "end": "end of {phase}"}
HOW_ENDED = ("finished", "aborted", "interrupted")
_CAUSES = {
    "no_plate": "no plate",
    "pressed_higher": "pressed higher",
    "pressed_again": "pressed again",
    "back_at_soak": "back at soak",
    "too_short": "too short",
    "back_in_cooling": "back in cooling",
    "abandoned": "abandoned",
    "drag_stroke": "drag stroke",
}
END_REASONS = (
    "released",
    "source ended",
    "another joint was opened",
    "released before the recorder stopped",
    "the recorder was away",
)
"""Why a joint ended, where nobody gave the reason."""


def event_text(code: str, parameters: Parameters) -> str:
    """One line for people; a code that is not known is said as it is, with its text where it has one."""
    if code.startswith("phase.") and code != "phase.revised":
        return _phase_text(code.removeprefix("phase."), parameters)
    if code.startswith("channel."):
        return _channel_text(code.removeprefix("channel."), parameters)
    word = _TEXTS.get(code)
    return word(parameters) if word else say(str(parameters.get("text", code)))


def phase_word(phase: object) -> str:
    """The name of a phase by its code; preparation where there is none."""
    return say(PHASE_NAMES[Phase(str(phase))]) if phase in set(Phase) else say("preparation")


def _phase_text(after: str, p: Parameters) -> str:
    if p.get("withdrawn"):
        cause = str(p["cause"])
        return say(
            "{now}: the {before} before it was called in error ({cause})",
            now=phase_word(after), before=phase_word(p.get("before")),
            cause=say(_CAUSES.get(cause, cause.replace("_", " "))),
        )  # fmt: skip
    if after in set(Phase):
        return say("{phase} begins", phase=phase_word(after))
    return say("released") if p.get("before") == Phase.COOLING else say("joint given up")


def _revision_text(p: Parameters) -> str:
    edge = str(p["boundary"]).rpartition(".")[2]
    what = say(_EDGES[edge], phase=phase_word(p["phase"]))
    if "to_s" not in p or "u_s" not in p:
        why = ending_text(str(p.get("reason", "")))
        return say("{what}, called at {at:.2f} s, was not seen ({why})", what=what, at=p["from_s"], why=why)
    to_s, from_s = float(p["to_s"]), float(p["from_s"])
    return say(
        "{what} moved by {by:+.2f} s to {to:.2f} s ± {u:.2f} s",
        what=what, by=to_s - from_s, to=to_s, u=half_interval(float(p["u_s"])),
    )  # fmt: skip


def _offer_text(p: Parameters) -> str:
    text = say(
        "drag read off the last stroke: {drag:.1f} bar, spread {spread:.1f} bar",
        drag=p["pressure_bar"], spread=p["spread_bar"],
    )  # fmt: skip
    if "breakaway_bar" in p:
        text += say(", breakaway {pressure:.1f} bar", pressure=p["breakaway_bar"])
    if p.get("closing_stroke") != "seen":
        text += say("; no carriage position: make sure that it was a closing stroke")
    return text


def _withdrawn_text(p: Parameters) -> str:
    return say(
        "drag of {drag:.1f} bar no longer offered: facing or pressing followed it", drag=p["pressure_bar"]
    )


def _drag_text(p: Parameters) -> str:
    text = say("drag {drag:.1f} bar confirmed by {by}", drag=p["pressure_bar"], by=p["by"])
    if "offered_bar" in p:
        text += say("; {drag:.1f} bar was read off the trace", drag=p["offered_bar"])
    return text


def _ended_text(p: Parameters) -> str:
    how = say(str(p["how"]))
    return say(
        "joint {joint} {how}; verdict of the recorded curve: {verdict}",
        joint=p.get("joint") or say("without a name"),
        how=f"{how} ({say(str(p['reason']))})" if p.get("reason") else how,
        verdict=say(VERDICT_NAMES[Verdict(str(p["verdict"]))]),
    )


def _opened_text(p: Parameters) -> str:
    joint = p.get("joint") or say("without a name")
    return say("joint {joint}, attempt {n}", joint=joint, n=int(float(p["attempt"])))


def _channel_text(state: str, p: Parameters) -> str:
    name = say(CHANNEL_NAMES.get(str(p["quantity"]), str(p["quantity"])))
    text = f"{name} {say(_CHANNEL_STATES.get(state, state))}"
    return f"{text}: {p['reason']}" if p.get("reason") else text


_TEXTS: dict[str, Callable[[Parameters], str]] = {
    "phase.revised": _revision_text,
    "drag.offered": _offer_text,
    "drag.withdrawn": _withdrawn_text,
    "drag.confirmed": _drag_text,
    "bead.confirmed": lambda p: say("bead all round seen by {by}", by=p["by"]),
    "bead.not_confirmed": lambda _: say("plate left, bead not confirmed"),
    "joint.opened": _opened_text,
    "joint.resumed": lambda p: say(
        "joint {joint} goes on after a gap", joint=p.get("joint") or say("without a name")
    ),
    "joint.ended": _ended_text,
    "record.damaged": lambda p: say(
        "{error}. It was set aside as {aside}, nothing in it was deleted; a fresh record was begun", **p
    ),
    "joint.unreadable": lambda p: say("joint {joint} was open and cannot be read: {error}", **p),
    "plate_surface.overdue": lambda p: say(
        "plate surface: read on {measured}, due again since {due}", measured=p["measured"], due=p["due"]
    ),
    "calibration.overdue": lambda p: say(
        "{channel}: calibration was due on {due}", channel=p["channel"], due=p["due"]
    ),
}
