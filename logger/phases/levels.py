"""Which gauge pressures count as high (pressed) and low (soaking, travelling) in this trace."""

from dataclasses import dataclass

from logger.domain.band import Band
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.domain.rig import HydraulicLag, Rig
from logger.phases.series import Series

SUSTAINED_S = 4.0
"""A pressure counts as reached when it holds this long: pump spikes and strokes at relief do not."""


@dataclass(frozen=True)
class Hints:
    """What a plan tells the detector, all optional: gauge pressures in bar, durations in seconds."""

    joining_bar: float | None = None
    bead_up_bar: float | None = None
    lowest_cooling_bar: float | None = None
    drag_bar: float | None = None
    joining_band: Band | None = None
    soak_s: float | None = None
    cooling_s: float | None = None
    changeover_max_s: float | None = None
    commissioned_lag: HydraulicLag | None = None
    """Of the rig: where the search for this joint's own lag may begin."""


NO_HINTS = Hints()


def hints_of(plan: JointPlan | None, rig: Rig | None = None) -> Hints:
    """Take from plan and rig what helps to find the phases."""
    lag = rig.commissioned_lag if rig is not None else None
    if plan is None:
        return NO_HINTS if lag is None else Hints(commissioned_lag=lag)
    cooling = plan.steps_of(Phase.COOLING)
    gauge = [step.gauge_pressure_bar for step in cooling]
    lows = [band.min if band.min is not None else band.target for band in gauge]
    soak = plan.step_of(Phase.HEAT_SOAK).duration_s
    minutes = [step.duration_s.min or step.duration_s.target for step in cooling]
    return Hints(
        joining_bar=gauge[0].target,
        bead_up_bar=plan.step_of(Phase.BEAD_UP).gauge_pressure_bar.target,
        lowest_cooling_bar=min((low for low in lows if low is not None), default=None),
        drag_bar=plan.drag_pressure_bar,
        joining_band=gauge[0] if gauge[0].is_given else None,
        soak_s=soak.min or soak.target,
        cooling_s=sum(m for m in minutes if m is not None) or None,
        changeover_max_s=plan.step_of(Phase.CHANGEOVER).duration_s.max,
        commissioned_lag=lag,
    )


@dataclass(frozen=True)
class Levels:
    """Thresholds in gauge bar: pressed above `enter_bar`, no longer below `leave_bar`.

    `base_bar` and `top_bar` are the levels between which the joining step stands.
    """

    base_bar: float
    top_bar: float
    enter_bar: float
    leave_bar: float

    @property
    def step_bar(self) -> float:
        return self.top_bar - self.base_bar


def sustained_high(series: Series, hold_s: float = SUSTAINED_S) -> float:
    """Return the highest pressure held for `hold_s`: the largest lower quartile over windows that long."""
    best = 0.0
    start_s = series.t_s[0] if len(series) else 0.0
    end_s = series.t_s[-1] if len(series) else 0.0
    while start_s + hold_s <= end_s:
        part = sorted(series.window(start_s, start_s + hold_s).values)
        if len(part) * series.interval_s >= 0.7 * hold_s:
            best = max(best, part[len(part) // 4])
        start_s += hold_s / 2
    return best


def levels_of(series: Series, hints: Hints) -> Levels:
    """Set the thresholds from the plan where there is one, from the trace's own levels otherwise."""
    return levels_from(sustained_high(series), hints)


def levels_from(seen_bar: float, hints: Hints) -> Levels:
    """Set the thresholds, given the highest sustained pressure seen so far.

    A joining pressure well under the plan must still be recognised as joining, so that it can be called low:
    the top is the lower of what was planned and what was reached.
    """
    if hints.joining_bar is None:
        return Levels(0.0, seen_bar, 0.8 * seen_bar, 0.7 * seen_bar)
    base = hints.drag_bar or 0.0
    presses = [bar for bar in (hints.joining_bar, hints.bead_up_bar) if bar is not None]
    planned = min(presses)
    reached = seen_bar if seen_bar > base + 0.35 * (planned - base) else planned
    top = min(planned, reached)
    step = top - base
    return Levels(base, top, base + 0.5 * step, base + 0.4 * step)
