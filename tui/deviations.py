"""Deviations as they begin: how far, how long. Provisional, from the readings; the recorder judges. Pure."""

from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from logger.domain.band import Band
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.phase import PHASES, Phase
from tui.faces import Faces

MEDIAN_OF = 5
"""Readings of which the middle one counts: a single spike is no deviation."""
SETTLE_S = 10.0
"""A phase that has not reached its lower limit by then deviates (choice of ours; a ramp is no deviation)."""
LET_DOWN_S = 3.0
"""Pressure that falls in the bead-up is taken for the let-down so long: it is recognised within that."""
EDGE_S = 1.0
"""A phase is recognised later than it begins; readings so near before it are its own edge. And a phase that
is shorter than its least time by less may have kept it."""


class Subject(StrEnum):
    PRESSURE = "pressure"
    PLATE = "plate"
    TIME = "time"
    """Negative where a phase was left before its least time."""
    FACES = "faces"


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """One stretch outside a limit.

    `worst` is the largest distance from it, in bar, degC, s or mm, positive above. `until_s` is None while it
    lasts.
    """

    phase: Phase
    subject: Subject
    since_s: float
    worst: float
    until_s: float | None = None

    def lasted_s(self, now_s: float) -> float:
        return (now_s if self.until_s is None else self.until_s) - self.since_s


class DeviationWatch:
    """Follows one joint's readings against its plan."""

    def __init__(self) -> None:
        self.seen: list[Deviation] = []
        self._recent: dict[Subject, list[float]] = {
            Subject.PRESSURE: [], Subject.PLATE: [], Subject.FACES: [],
        }  # fmt: skip
        self._phase: Phase | None = None
        self._since_s = self._now_s = self._falls_since_s = 0.0
        self._faces = Faces()
        self._has_been_inside = False

    def enter(self, plan: JointPlan, phase: Phase | None, at_s: float) -> None:
        """A phase began at `at_s`: what lasted ends, and what was seen since then did not belong before."""
        if phase is self._phase:
            self._since_s = at_s
            return
        self.seen = [deviation for deviation in self.seen if deviation.since_s < at_s - EDGE_S]
        for subject in Subject:
            self._end(subject, at_s)
        self._leave(plan, phase, at_s)
        parted_mm = self._faces.enter(self._phase, phase)
        if phase is not None and parted_mm:
            self._note(phase, Subject.FACES, self._since_s, parted_mm, self._now_s)
        self._phase, self._since_s = phase, at_s
        self._has_been_inside = False
        self._recent[Subject.PRESSURE].clear()

    def _leave(self, plan: JointPlan, following: Phase | None, at_s: float) -> None:
        """Note a least time that was not kept; a phase that is gone back from was none."""
        left = self._phase
        if left is None or at_s <= self._since_s:
            return
        released = following is None and left is Phase.COOLING
        if not released and (following is None or PHASES.index(following) <= PHASES.index(left)):
            return
        least_s = sum(step.duration_s.min or 0.0 for step in plan.steps_of(left))
        short_s = least_s - (at_s - self._since_s)
        if short_s > EDGE_S:
            self._note(left, Subject.TIME, at_s, -short_s, at_s)

    def _note(self, phase: Phase, subject: Subject, since_s: float, worst: float, until_s: float) -> None:
        """Add one that is over."""
        over = Deviation(phase=phase, subject=subject, since_s=since_s, worst=worst, until_s=until_s)
        self.seen.append(over)

    def read(self, plan: JointPlan, since_s: float, t_s: float, values: dict[Subject, float | None]) -> None:
        """Take one sample of the present phase, which began at `since_s`."""
        phase, self._now_s = self._phase, t_s
        if phase is None:
            return
        step = step_at(plan, phase, t_s - since_s)
        pressure = self._smooth(Subject.PRESSURE, values.get(Subject.PRESSURE))
        if pressure is not None and not _is_over(plan, phase, t_s - since_s):
            band = step.gauge_pressure_bar
            beyond = _beyond(band, pressure)
            is_on_its_way = self._is_on_its_way(phase, beyond, t_s, t_s - since_s)
            self._follow(phase, Subject.PRESSURE, t_s, 0.0 if is_on_its_way else beyond)
        plate = self._smooth(Subject.PLATE, values.get(Subject.PLATE))
        if plate is not None and phase in (Phase.BEAD_UP, Phase.HEAT_SOAK):
            self._follow(phase, Subject.PLATE, t_s, _beyond(plan.plate_temperature_degC, plate))
        opening_mm = self._smooth(Subject.FACES, values.get(Subject.FACES))
        if opening_mm is not None:
            self._follow(phase, Subject.FACES, t_s, self._faces.apart_mm(phase, opening_mm))
        most_s = step.duration_s.max
        if most_s is not None and phase is not Phase.COOLING:
            self._follow(phase, Subject.TIME, t_s, max(t_s - since_s - most_s, 0.0))

    def _is_on_its_way(self, phase: Phase, beyond: float, t_s: float, gone_s: float) -> bool:
        """On the ramp to its level at the start of a phase, or on the let-down that ends the bead-up."""
        # Bead-up and cooling begin from below, soak with the let-down from above.
        self._has_been_inside |= beyond <= 0 if phase is Phase.HEAT_SOAK else beyond >= 0
        if not self._has_been_inside:
            return gone_s < SETTLE_S
        if phase is not Phase.BEAD_UP or beyond >= 0:
            self._falls_since_s = t_s
            return False
        return t_s - self._falls_since_s < LET_DOWN_S

    def _smooth(self, subject: Subject, value: float | None) -> float | None:
        recent = self._recent[subject]
        if value is None:
            return None
        recent.append(value)
        del recent[:-MEDIAN_OF]
        return median(recent) if len(recent) == MEDIAN_OF else None

    def _follow(self, phase: Phase, subject: Subject, t_s: float, beyond: float) -> None:
        open_one = self._open(subject)
        if not beyond:
            self._end(subject, t_s)
        elif open_one is None or (self.seen[open_one].worst > 0) != (beyond > 0):
            self._end(subject, t_s)
            self.seen.append(Deviation(phase=phase, subject=subject, since_s=t_s, worst=beyond))
        elif abs(beyond) > abs(self.seen[open_one].worst):
            self._change(open_one, worst=beyond)

    def _open(self, subject: Subject) -> int | None:
        for index in range(len(self.seen) - 1, -1, -1):
            if self.seen[index].subject is subject:
                return index if self.seen[index].until_s is None else None
        return None

    def _end(self, subject: Subject, at_s: float) -> None:
        index = self._open(subject)
        if index is not None:
            self._change(index, until_s=at_s)

    def _change(self, index: int, *, worst: float | None = None, until_s: float | None = None) -> None:
        old = self.seen[index]
        self.seen[index] = Deviation(
            phase=old.phase,
            subject=old.subject,
            since_s=old.since_s,
            worst=old.worst if worst is None else worst,
            until_s=until_s,
        )


def step_at(plan: JointPlan, phase: Phase, gone_s: float) -> PlanStep:
    """The step of a phase that is to be followed so long after its start."""
    steps = plan.steps_of(phase)
    for step in steps[:-1]:
        least_s = step.duration_s.min or 0.0
        if gone_s < least_s:
            return step
        gone_s -= least_s
    return steps[-1]


def _is_over(plan: JointPlan, phase: Phase, gone_s: float) -> bool:
    """Cooling has lasted long enough: the pressure may be taken off."""
    least_s = [step.duration_s.min for step in plan.steps_of(phase)]
    return phase is Phase.COOLING and None not in least_s and gone_s > sum(s or 0.0 for s in least_s)


def _beyond(band: Band, value: float) -> float:
    """How far outside, positive above, 0 inside."""
    if band.max is not None and value > band.max:
        return value - band.max
    if band.min is not None and value < band.min:
        return value - band.min
    return 0.0
