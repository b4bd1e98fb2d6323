"""Curves drawn corner by corner, for what happens around and between the phases."""

from collections.abc import Callable, Iterable

from logger.domain.event import PhaseChanged
from logger.domain.rig import GaugeSide, Rig
from logger.domain.sample import Sample
from logger.session.advance import advance
from logger.session.state import SessionState, Setting, opened
from tests.drawn import DRAG_BAR, JOINING_BAR, Drawn
from tests.unit.judge.plans import plan_of

RIG = Rig(name="drawn", gauge_side=GaugeSide.LINE)
PLANNED = Setting(joint="D-1", plan=plan_of(), rig=RIG)
UNNAMED = Setting(joint=None, plan=None, rig=RIG)


class Curve:
    """Pressure as corner points, and the carriage where it is drawn: the opening in mm, 0 closed."""

    def __init__(self) -> None:
        self.t_s = 0.0
        self.corners = [(0.0, 0.0)]
        self.openings = [(0.0, 200.0)]
        self.has_carriage = False

    def line(self, seconds: float, bar: float, opening_mm: float | None = None) -> "Curve":
        self.t_s += seconds
        self.corners.append((self.t_s, bar))
        self.openings.append((self.t_s, self.openings[-1][1] if opening_mm is None else opening_mm))
        self.has_carriage = self.has_carriage or opening_mm is not None
        return self

    def hold(self, seconds: float) -> "Curve":
        return self.line(seconds, self.corners[-1][1])

    def press(self, bar: float, seconds: float, *, rise_s: float = 0.3) -> "Curve":
        """Up to a pressure, held, and off again."""
        return self.line(rise_s, bar).hold(seconds).line(0.4, 0.0)

    def stroke(self, *, bar: float = DRAG_BAR, seconds: float = 6.0, mm_per_s: float = 12.0) -> "Curve":
        """A closing stroke with its breakaway peak, the carriage going along."""
        start_mm = self.openings[-1][1]
        self.line(0.2, 1.3 * bar, start_mm).line(0.3, bar)
        return self.line(seconds, bar, start_mm - mm_per_s * seconds).line(0.3, 0.0)

    def joint(
        self,
        *,
        bead_up_bar: float = JOINING_BAR,
        joining_bar: float = JOINING_BAR,
        bead_up_s: float = 25.0,
        soak_s: float = 120.0,
        cooling: Callable[["Curve"], object] = lambda curve: curve.hold(300),
    ) -> "Curve":
        self.line(0.2, DRAG_BAR).hold(2.0).line(1.0, bead_up_bar).hold(bead_up_s).line(0.8, 1.0).hold(soak_s)
        self.line(0.1, DRAG_BAR).hold(0.8).line(0.1, 0.0).hold(1.4).line(0.1, DRAG_BAR).hold(1.5)
        self.line(5.0, joining_bar)
        cooling(self)
        return self.line(0.8, 0.0)

    def samples(self, rate_hz: float = 10.0, noise_bar: float = 0.05) -> list[Sample]:
        drawn = Drawn(tuple(self.corners), {}).samples(rate_hz=rate_hz, noise_bar=noise_bar)
        if not self.has_carriage:
            return drawn
        opening = Drawn(tuple(self.openings), {})
        return [
            Sample(t_s=s.t_s, pressure_bar=s.pressure_bar, carriage_mm=round(opening.at(s.t_s), 2))
            for s in drawn
        ]


def followed(setting: Setting, samples: Iterable[Sample]) -> tuple[SessionState, list[PhaseChanged]]:
    """The session after these samples, and its changes of phase."""
    state = opened(setting)
    changes = []
    for sample in samples:
        state, events = advance(state, sample)
        changes += [event for event in events if isinstance(event, PhaseChanged)]
    return state, changes


def standing(changes: Iterable[PhaseChanged]) -> list[str]:
    """The phases that stood in the end: what was withdrawn is left out, and what it had followed."""
    phases: list[str] = []
    for change in changes:
        after = change.after or "none"
        if change.withdrawn:
            while phases and after in phases:
                phases.pop()
            if after == "none":
                phases.clear()
        if not phases or phases[-1] != after:
            phases.append(after)
    return phases
