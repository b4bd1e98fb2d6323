"""The state of one joint, and what may happen to it."""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field

from logger.domain.event import BeadConfirmed, DragConfirmed
from logger.domain.heat_through import PlateHeat, plate_heat_of
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.domain.plate_known import NOTHING_KNOWN, PlateKnown
from logger.domain.rig import Origin, Rig
from logger.domain.sample import Sample
from logger.phases.drag import Strokes
from logger.phases.levels import hints_of
from logger.phases.tracked import Tracked
from logger.session.placed import Placed


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a joint is recorded and judged against. `joint` and `plan` are None for an unnamed joint."""

    joint: str | None
    plan: JointPlan | None
    rig: Rig | None = None
    origin: Origin = Origin.LIVE
    time_scale: float = 1.0
    plate_known: PlateKnown = NOTHING_KNOWN


_BAR_PER_MPA = 10.0
PRESS_SHARE = 0.5
"""Of the planned pressure above drag: what is held below presses nothing, while drag is not confirmed."""


class SampleLog:
    """Samples so far, as a value: appending leaves every earlier log as it was.

    Logs share one list; a log that is not the newest copies it before it grows.
    """

    __slots__ = ("_rows", "_size")

    def __init__(self, rows: list[Sample] | None = None, size: int | None = None) -> None:
        self._rows: list[Sample] = [] if rows is None else rows
        self._size = len(self._rows) if size is None else size

    def __len__(self) -> int:
        return self._size

    def appended(self, sample: Sample) -> "SampleLog":
        rows = self._rows if len(self._rows) == self._size else self._rows[: self._size]
        rows.append(sample)
        return SampleLog(rows, self._size + 1)

    def rows(self) -> list[Sample]:
        return self._rows[: self._size]

    def between(self, from_s: float, to_s: float) -> list[Sample]:
        """Samples with from_s <= t <= to_s; the samples are taken to be in order of time."""
        begin = bisect_left(self._rows, from_s, hi=self._size, key=_time)
        return self._rows[begin : bisect_right(self._rows, to_s, hi=self._size, key=_time)]


def _time(sample: Sample) -> float:
    return sample.t_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Abort:
    """The operator breaks the joint off."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """No more samples will come: the joint is over, or its record ends here."""

    how: str = "finished"
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmDrag:
    """A person gives the drag of this joint, gauge bar; `plan` is the plan computed with it."""

    pressure_bar: float
    by: str
    at_s: float
    plan: JointPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmBead:
    """A person has seen the bead all round."""

    by: str
    at_s: float


Command = Abort | Finish | ConfirmDrag | ConfirmBead


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionState:
    """One joint between its first sample and its judgement. `is_over` closes it for good.

    `starts` are the phases of the cycle that is on, or was last; `due_s` when their boundaries are fitted
    next.
    """

    setting: Setting
    tracked: Tracked
    samples: SampleLog = field(default_factory=SampleLog)
    starts: Mapping[Phase, Placed] = field(default_factory=dict)
    released: Placed | None = None
    due_s: tuple[float, ...] = ()
    strokes: Strokes = field(default_factory=Strokes)
    drag: DragConfirmed | None = None
    bead: BeadConfirmed | None = None
    plate: PlateHeat | None = None
    is_over: bool = False


def opened(setting: Setting) -> SessionState:
    """Begin a joint."""
    least_bar = PRESS_SHARE * (press_bar_of(setting.plan) or 0.0)
    plate = setting.plate_known.before
    if plate is None and setting.plan is not None:
        plate = plate_heat_of(setting.plan.plate_temperature_degC)
    return SessionState(
        setting=setting,
        tracked=Tracked(hints=hints_of(setting.plan, setting.rig), least_bar=least_bar),
        plate=plate,
    )


def press_bar_of(plan: JointPlan | None) -> float | None:
    """Gauge pressure that presses the ends, without drag: joining pressure x pipe area / piston area."""
    if plan is None or plan.piston_area_mm2 is None:
        return None
    target_MPa = plan.step_of(Phase.COOLING).interface_pressure_MPa.target
    if target_MPa is None:
        return None
    return target_MPa * _BAR_PER_MPA * plan.pipe_area_mm2 / plan.piston_area_mm2
