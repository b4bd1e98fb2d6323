"""What holds for the judge whatever the curve: units, chunks, doubt, bytes."""

import random
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from logger.domain.band import Band
from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.joint_plan import JointPlan
from logger.domain.judgement import Judgement, Verdict
from logger.domain.rig import GaugeSide, Rig
from logger.domain.sample import Sample
from logger.judge.judge import judge
from logger.session.advance import advance, judgement_of, run_through
from logger.session.state import Finish, SessionState, Setting, opened
from logger.wire.judgement import judgement_from_json, to_json
from tests.drawn import draw_joint
from tests.unit.judge.plans import plan_of

PLAN = plan_of(cooling=((plan_of().steps[-1].gauge_pressure_bar, 118.0),))
FEW = settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    # A whole joint is judged per example: a failing one is told as it was found, shrinking it takes minutes.
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)

joints = st.fixed_dictionaries(
    {
        "open_s": st.floats(3.0, 9.0),
        "ramp_s": st.floats(1.0, 9.0),
        "soak_s": st.floats(60.0, 130.0),
        "cooling_s": st.floats(60.0, 140.0),
        "soak_bar": st.sampled_from([0.0, 1.0, 9.3, 12.0]),
        "joining_bar": st.floats(24.0, 32.0),
        "bead_up_bar": st.floats(24.0, 32.0),
        "line_side": st.booleans(),
        "preparation": st.booleans(),
    }
)
seeds = st.integers(0, 10_000)


def curve(drawing, seed: int, noise_bar: float = 0.05) -> list[Sample]:
    return draw_joint(**drawing).samples(noise_bar=noise_bar, seed=seed)


def rig(u_bar: float | None = None) -> Rig:
    channel = Channel(quantity=Quantity.PRESSURE, scaling=Scaling(), standard_uncertainty=u_bar)
    return Rig(name="drawn", gauge_side=GaugeSide.UNKNOWN, channels=(channel,))


def judged(samples: list[Sample], plan: JointPlan = PLAN, u_bar: float | None = None) -> Judgement:
    return judge(samples, joint="D-1", plan=plan, rig=rig(u_bar))


@given(joints, seeds)
@FEW
def test_the_same_curve_gives_the_same_bytes_and_they_read_back(drawing, seed):
    samples = curve(drawing, seed)
    text = to_json(judged(samples))
    assert to_json(judged(list(samples))) == text
    assert to_json(judgement_from_json(text)) == text


@given(joints, seeds, st.lists(st.integers(1, 4000), max_size=4))
@settings(FEW, max_examples=8)
def test_it_does_not_matter_in_which_portions_samples_come(drawing, seed, cuts):
    """All at once, one by one, or in portions with a state kept in between."""
    samples = curve(drawing, seed)
    setting = Setting(joint="D-1", plan=PLAN, rig=rig())
    whole, events = run_through(setting, samples)
    state: SessionState = opened(setting)
    told: tuple[object, ...] = ()
    edges = [0, *sorted(cuts), len(samples)]
    for begin, end in pairwise(edges):
        for sample in samples[begin:end]:
            state, new = advance(state, sample)
            told += new
    assert told == events
    assert state.tracked == whole.tracked
    assert to_json(judgement_of(state)) == to_json(judgement_of(whole))
    _, (*_, end_event) = advance(state, Finish())
    direct = judge(samples, joint="D-1", plan=PLAN, rig=rig(), origin=setting.origin)
    assert to_json(end_event.judgement) == to_json(direct)


def scaled(band: Band, factor: float) -> Band:
    def edge(value: float | None) -> float | None:
        return None if value is None else factor * value

    return Band(min=edge(band.min), target=edge(band.target), max=edge(band.max), source=band.source)


@given(joints, seeds, st.sampled_from([0.25, 0.5, 2.0, 8.0]), st.sampled_from([None, 0.1, 0.4]))
@FEW
def test_pressures_and_limits_in_another_unit_give_the_same_verdict_and_codes(drawing, seed, factor, u_bar):
    """Powers of two, so that only thresholds with a hidden unit could make a difference."""
    samples = curve(drawing, seed)
    in_other_unit = [replace(s, pressure_bar=factor * (s.pressure_bar or 0.0)) for s in samples]
    steps = tuple(replace(s, gauge_pressure_bar=scaled(s.gauge_pressure_bar, factor)) for s in PLAN.steps)
    drag_bar = factor * (PLAN.drag_pressure_bar or 0.0)
    plan = replace(PLAN, steps=steps, drag_pressure_bar=drag_bar)
    other_u_bar = None if u_bar is None else factor * u_bar
    one, other = judged(samples, u_bar=u_bar), judged(in_other_unit, plan, u_bar=other_u_bar)
    assert (one.verdict, one.reasons) == (other.verdict, other.reasons)
    assert [f.code for f in one.findings] == [f.code for f in other.findings]
    for a, b in zip(one.phases, other.phases, strict=True):
        assert a.start.at_s == pytest.approx(b.start.at_s, abs=1e-6)
        assert a.start.reason == b.start.reason


@given(joints, seeds, st.floats(0.0, 0.5), st.floats(1.0, 5.0))
@FEW
def test_a_wider_uncertainty_never_turns_a_doubt_into_conforming_nor_finds_more_faults(
    drawing, seed, u_bar, factor
):
    samples = curve(drawing, seed)
    narrow, wide = judged(samples, u_bar=u_bar), judged(samples, u_bar=factor * u_bar)
    if narrow.verdict is not Verdict.CONFORMING:
        assert wide.verdict is not Verdict.CONFORMING
    if wide.verdict is Verdict.NONCONFORMING:
        assert narrow.verdict is Verdict.NONCONFORMING
    assert {f.code for f in wide.findings} <= {f.code for f in narrow.findings}
    assert set(narrow.reasons) <= set(wide.reasons)


good_joints = st.fixed_dictionaries(
    {
        "open_s": st.floats(3.0, 5.5),
        "ramp_s": st.floats(2.0, 6.0),
        "soak_s": st.floats(101.0, 120.0),
        "cooling_s": st.floats(120.0, 140.0),
        "soak_bar": st.sampled_from([0.0, 1.0]),
    }
)


@given(good_joints, seeds, st.floats(-1e5, 1e6))
@FEW
def test_the_clock_may_begin_anywhere(drawing, seed, shift_s):
    samples = curve(drawing, seed)
    moved = [replace(s, t_s=round(s.t_s + round(shift_s, 3), 3)) for s in samples]
    one, other = judged(samples), judged(moved)
    assert one.verdict is other.verdict is Verdict.CONFORMING
    assert [f.code for f in one.findings] == [f.code for f in other.findings]
    for a, b in zip(one.phases, other.phases, strict=True):
        assert a.start.at_s is not None
        assert b.start.at_s == pytest.approx(a.start.at_s + round(shift_s, 3), abs=0.1)


@given(good_joints, seeds)
@FEW
def test_spikes_change_no_verdict(drawing, seed):
    """Single readings far off, one in two hundred, anywhere: also on the edges."""
    samples = curve(drawing, seed)
    rng = random.Random(seed)
    spiky = list(samples)
    for k in range(100, len(samples) - 100, 200):
        at = k + rng.randrange(100)
        bar = (samples[at].pressure_bar or 0.0) + rng.choice([40.0, -40.0])
        spiky[at] = replace(samples[at], pressure_bar=bar)
    judgement = judged(spiky)
    assert [f.code for f in judgement.findings if f.severity == "fault"] == []
