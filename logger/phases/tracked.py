"""What the live tracker remembers between two samples."""

from dataclasses import dataclass

from logger.domain.phase import Phase
from logger.domain.sample import Sample
from logger.phases.levels import NO_HINTS, Hints, Levels


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracked:
    """What the tracker remembers. `phase` is None outside a heating cycle; `since_s` when that began.

    `finished_at_s` is the time of the release that ended a whole cycle, `cooled_from_s` when a cooling last
    began, `soaked_s` how long the last soak was. `left_on` says that the pressure was let down so late that
    the soak may have been under pressure: what follows may be the joint being closed.
    `pressed_bar` is the pressure that the bead-up of this cycle was held at; what is held below `least_bar`
    presses nothing. `pressure_at_s` is the time of the last pressure, `gap_end_s` when it last came back.
    """

    hints: Hints = NO_HINTS
    levels: Levels | None = None
    recent: tuple[Sample, ...] = ()
    smooth_bar: float = 0.0
    high: bool = False
    changed_s: float = 0.0
    phase: Phase | None = None
    since_s: float = 0.0
    rest_mm: float | None = None
    peak_bar: float = 0.0
    pressed_bar: float = 0.0
    least_bar: float = 0.0
    soak_bar: float | None = None
    away_s: float | None = None
    left_on: bool = False
    plate_in: bool | None = None
    finished_at_s: float | None = None
    cooled_from_s: float = 0.0
    soaked_s: float = 0.0
    pressure_at_s: float | None = None
    gap_end_s: float | None = None

    @property
    def now_s(self) -> float:
        return self.recent[-1].t_s if self.recent else 0.0

    @property
    def carriage_mm(self) -> float | None:
        return next((s.carriage_mm for s in reversed(self.recent) if s.carriage_mm is not None), None)

    @property
    def opened_mm(self) -> float | None:
        """How far the carriage has moved apart since it came to rest in this phase."""
        now = self.carriage_mm
        return None if now is None or self.rest_mm is None else now - self.rest_mm
