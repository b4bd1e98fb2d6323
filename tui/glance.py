"""What is known at one moment, and what one glance is told."""

from dataclasses import dataclass
from enum import StrEnum

from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.wording.units import METRIC, Units


class Alarm(StrEnum):
    """What is sounded and flashed when a cue with it begins."""

    NONE = "none"
    PREPARE = "prepare"
    DEVIATION = "deviation"
    DONE = "done"


BEAD, CLAMPS, ABORT = "bead", "clamps", "abort"


class Trust(StrEnum):
    """Whether figures may be followed."""

    FULL = "full"
    OLD = "old"
    UNSURE = "unsure"


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What is known now.

    `since_late_s` counts from the late edge of the phase's start, `since_early_s` from the early one, both in
    seconds on the joint's clock.
    """

    phase: Phase | None
    since_late_s: float = 0.0
    since_early_s: float = 0.0
    plan: JointPlan | None = None
    is_joint_open: bool = False
    is_bead_seen: bool = False
    is_spoilt: bool = False
    is_released: bool = False
    verdict: str = ""
    trust: Trust = Trust.FULL
    units: Units = METRIC


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One glance. `figure` is empty where there is none; `keys` are the actions of the joint that hold now.

    With `is_quiet` no key does anything.
    """

    action: str
    figure: str = ""
    caption: str = ""
    cautions: tuple[str, ...] = ()
    alarm: Alarm = Alarm.NONE
    keys: tuple[str, ...] = ()
    is_quiet: bool = False
