"""Which phase follows which, live: a table and the line that reads it."""

from enum import StrEnum

from logger.domain.phase import Phase


class Cue(StrEnum):
    """What the pressure, carriage or plate switch has just shown."""

    PRESSED = "pressed"
    """Pressure high for a second, nothing speaking against the plate being in."""
    LET_DOWN = "let_down"
    NO_PLATE = "no_plate"
    """The run that looked like a bead-up was no more than an alignment check: no plate, or opened at once."""
    LEFT_PLATE = "left_plate"
    BACK_AT_SOAK = "back_at_soak"
    RISING = "rising"
    PRESSED_AGAIN = "pressed_again"
    """High again far too early for the soak to be over: started again, or the first was no bead-up."""
    PRESSED_HIGHER = "pressed_higher"
    """Held far above the pressure of what had passed for the bead-up: that was facing or a stroke."""
    IN_BAND = "in_band"
    TOO_SHORT = "too_short"
    """Let down after far too short a time for a cooling: it may have been the bead-up."""
    RELEASED = "released"
    FELL_BACK = "fell_back"
    """Gone again at once: a stroke that ran into its stop, or stuck and slipped, not the faces."""
    BACK_IN_COOLING = "back_in_cooling"
    """Pressure that was gone long before the cooling was done is back: a pump that stood, not the release."""
    ABANDONED = "abandoned"
    """Nothing has followed for a long time: the joint was given up."""


TRANSITIONS: dict[tuple[Phase | None, Cue], Phase | None] = {
    (None, Cue.BACK_IN_COOLING): Phase.COOLING,
    (None, Cue.PRESSED): Phase.BEAD_UP,
    (Phase.BEAD_UP, Cue.LET_DOWN): Phase.HEAT_SOAK,
    (Phase.BEAD_UP, Cue.LEFT_PLATE): Phase.CHANGEOVER,
    (Phase.HEAT_SOAK, Cue.NO_PLATE): None,
    (Phase.HEAT_SOAK, Cue.PRESSED_HIGHER): Phase.BEAD_UP,
    (Phase.HEAT_SOAK, Cue.PRESSED_AGAIN): Phase.BEAD_UP,
    (Phase.HEAT_SOAK, Cue.LEFT_PLATE): Phase.CHANGEOVER,
    (Phase.HEAT_SOAK, Cue.RISING): Phase.PRESSURE_BUILD_UP,
    (Phase.HEAT_SOAK, Cue.ABANDONED): None,
    (Phase.CHANGEOVER, Cue.PRESSED_HIGHER): Phase.BEAD_UP,
    (Phase.CHANGEOVER, Cue.PRESSED_AGAIN): Phase.BEAD_UP,
    (Phase.CHANGEOVER, Cue.BACK_AT_SOAK): Phase.HEAT_SOAK,
    (Phase.CHANGEOVER, Cue.NO_PLATE): None,
    (Phase.CHANGEOVER, Cue.RISING): Phase.PRESSURE_BUILD_UP,
    (Phase.CHANGEOVER, Cue.ABANDONED): None,
    (Phase.PRESSURE_BUILD_UP, Cue.PRESSED_HIGHER): Phase.BEAD_UP,
    (Phase.PRESSURE_BUILD_UP, Cue.IN_BAND): Phase.COOLING,
    (Phase.PRESSURE_BUILD_UP, Cue.ABANDONED): None,
    (Phase.COOLING, Cue.PRESSED_HIGHER): Phase.BEAD_UP,
    (Phase.COOLING, Cue.FELL_BACK): Phase.CHANGEOVER,
    (Phase.COOLING, Cue.TOO_SHORT): Phase.HEAT_SOAK,
    (Phase.COOLING, Cue.RELEASED): None,
}


def cues_in(phase: Phase | None) -> tuple[Cue, ...]:
    """The cues that mean anything in `phase`, in the order in which they are looked for."""
    return tuple(cue for state, cue in TRANSITIONS if state is phase)
