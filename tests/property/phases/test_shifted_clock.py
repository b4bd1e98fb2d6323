"""A trace's clock may start anywhere: the boundaries move with it and nothing else changes."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.domain.rig import GaugeSide
from logger.phases.detect import detect
from logger.phases.levels import NO_HINTS, hints_of
from tests.drawn import draw_joint
from tests.unit.judge.plans import plan_of

SAMPLES = draw_joint(cooling_s=60.0).samples(noise_bar=0.1, seed=4)


@given(shift_ms=st.integers(0, 3_600_000), has_plan=st.booleans())
@settings(max_examples=10, deadline=None)
def test_shifting_the_clock_shifts_the_boundaries(shift_ms, has_plan):
    hints = hints_of(plan_of()) if has_plan else NO_HINTS
    here = detect(SAMPLES, hints, GaugeSide.LINE).spans
    moved = [replace(s, t_s=s.t_s + shift_ms / 1000) for s in SAMPLES]
    there = detect(moved, hints, GaugeSide.LINE).spans
    for a, b in zip(here, there, strict=True):
        for mine, other in ((a.start, b.start), (a.end, b.end)):
            assert mine.reason == other.reason
            if mine.at_s is not None:
                assert other.at_s == pytest.approx(mine.at_s + shift_ms / 1000, abs=0.02)
                assert other.u_s == pytest.approx(mine.u_s, abs=0.02)
