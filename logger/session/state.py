"""The state of one joint, and what may happen to it."""

from dataclasses import dataclass, field

from logger.domain.joint_plan import JointPlan
from logger.domain.rig import Origin, Rig
from logger.domain.sample import Sample
from logger.phases.levels import hints_of
from logger.phases.tracked import Tracked


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a joint is recorded and judged against. `joint` and `plan` are None for an unnamed joint."""

    joint: str | None
    plan: JointPlan | None
    rig: Rig | None = None
    origin: Origin = Origin.LIVE
    time_scale: float = 1.0


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
class SessionState:
    """One joint between its first sample and its judgement. `is_over` closes it for good."""

    setting: Setting
    tracked: Tracked
    samples: SampleLog = field(default_factory=SampleLog)
    is_over: bool = False


def opened(setting: Setting) -> SessionState:
    """Begin a joint."""
    return SessionState(setting=setting, tracked=Tracked(hints=hints_of(setting.plan)))
