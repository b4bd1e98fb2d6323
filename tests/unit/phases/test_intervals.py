"""Stated uncertainties against a gauge no fit is told of: two equal lags in a row behind a dead time."""

from random import Random

import pytest

from logger.domain.rig import GaugeSide
from logger.domain.sample import Sample
from logger.phases.detect import detect
from logger.phases.levels import hints_of
from tests.drawn import Drawn, draw_joint
from tests.unit.judge.plans import plan_of

HINTS = hints_of(plan_of())
STEP_S = 0.01
NOISE_BAR = 0.2


def shown(drawn: Drawn, lag_s: float, dead_s: float, rng: Random) -> list[Sample]:
    """What such a gauge shows at 10 Hz: each lag takes half of `lag_s`."""
    share = STEP_S / (lag_s / 2)
    first = second = 0.0
    samples = []
    for k in range(int(drawn.corners[-1][0] / STEP_S)):
        first += (drawn.at(max(k * STEP_S - dead_s, 0.0)) - first) * share
        second += (first - second) * share
        if k % 10 == 0:
            bar = round(second + rng.gauss(0.0, NOISE_BAR), 3)
            samples.append(Sample(t_s=round(k * STEP_S, 3), pressure_bar=bar, plate_temperature_degC=220.0))
    return samples


@pytest.mark.parametrize("side", [GaugeSide.LINE, GaugeSide.CLOSING])
@pytest.mark.parametrize("lag_s", [0.1, 0.4])
def test_boundaries_lie_inside_their_intervals_behind_another_lag_than_the_fits(side, lag_s):
    rng = Random(f"{side} {lag_s}")
    away = []
    for _ in range(12):
        drawn = draw_joint(
            bead_up_s=rng.uniform(15.0, 30.0),
            soak_s=rng.uniform(110.0, 130.0),
            open_s=rng.uniform(3.5, 6.0),
            ramp_s=rng.uniform(3.0, 7.0),
            cooling_s=290.0,
            line_side=side is GaugeSide.LINE,
            preparation=False,
        )
        spans = detect(shown(drawn, lag_s, 0.25 * lag_s, rng), HINTS, side).spans
        for span, (start_s, _) in zip(spans, drawn.truth.values(), strict=True):
            if span.phase != "cooling" and span.start.at_s is not None and span.start.u_s is not None:
                away.append(abs(span.start.at_s - start_s) / span.start.u_s)
    assert len(away) >= 40
    assert sum(z <= 1.96 for z in away) / len(away) >= 0.85
    assert sum(z <= 2.576 for z in away) / len(away) >= 0.93
