"""The five phases of a butt-fusion joint, in order."""

from enum import StrEnum


class Phase(StrEnum):
    """Phase keys, as files, JSON and findings spell them."""

    BEAD_UP = "bead_up"
    HEAT_SOAK = "heat_soak"
    CHANGEOVER = "changeover"
    PRESSURE_BUILD_UP = "pressure_build_up"
    COOLING = "cooling"


PHASES: tuple[Phase, ...] = tuple(Phase)
