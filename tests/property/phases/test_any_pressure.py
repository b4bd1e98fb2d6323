"""Any series of readings, however odd, is answered and never raised at."""

from hypothesis import example, given, settings
from hypothesis import strategies as st

from logger.domain.judgement import Judgement, Severity, Verdict
from logger.domain.phase import PHASES
from logger.domain.rig import GaugeSide, Rig
from logger.domain.sample import Sample
from logger.judge.judge import judge
from logger.phases.detect import detect
from logger.phases.levels import NO_HINTS, hints_of
from logger.session.advance import advance, run_through
from logger.session.state import Finish, Setting
from logger.wire.judgement import to_json
from tests.unit.judge.plans import plan_of

PLAN = plan_of(soak_s=10.0, cooling=((plan_of().steps[-1].gauge_pressure_bar, 20.0),))
HINTS = hints_of(PLAN)

bars = st.one_of(
    st.none(), st.floats(-100, 500), st.sampled_from([0.0, 8.0, 14.0, 28.0]), st.floats(-1e6, 1e6, width=32)
)
readings = st.builds(
    dict,
    pressure_bar=bars,
    plate_temperature_degC=st.one_of(st.none(), st.floats(-50, 400)),
    carriage_mm=st.one_of(st.none(), st.floats(-20, 500)),
    plate_in=st.one_of(st.none(), st.booleans()),
)
intervals_ms = st.sampled_from([1, 20, 100, 100, 100, 200, 1000, 7000])


def at_times(rows: list[tuple[int, dict]]) -> list[Sample]:
    t_ms, samples = 0, []
    for step_ms, reading in rows:
        t_ms += step_ms
        samples.append(Sample(t_s=t_ms / 1000, **reading))
    return samples


loose = st.lists(st.tuples(intervals_ms, readings), max_size=80).map(at_times)


@st.composite
def held_levels(draw) -> list[Sample]:
    """Stretches of one level each, at one rate, with every channel there or not: nearer to a real joint."""
    interval_ms = draw(st.sampled_from([20, 100, 200, 1000]))
    has_carriage, has_plate, shake = draw(st.booleans()), draw(st.booleans()), draw(st.floats(0.0, 2.0))
    rows: list[tuple[int, dict]] = []
    for _ in range(draw(st.integers(1, 8))):
        level = draw(st.sampled_from([None, 0.0, 1.0, 8.0, 12.0, 22.0, 28.0, 36.0, -5.0]))
        opening = draw(st.sampled_from([0.0, 16.0, 150.0])) if has_carriage else None
        plate = draw(st.booleans()) if has_plate else None
        for k in range(min(300, int(draw(st.floats(0.1, 40.0)) * 1000 / interval_ms))):
            bar = None if level is None else level + shake * ((k * 7919) % 13 - 6) / 6
            rows.append((interval_ms, {"pressure_bar": bar, "carriage_mm": opening, "plate_in": plate}))
    return at_times(rows)


def expect_sound(judgement: Judgement) -> None:
    assert tuple(span.phase for span in judgement.phases) == PHASES
    for span in judgement.phases:
        for boundary in (span.start, span.end):
            assert (boundary.at_s is None) == bool(boundary.reason)
    faults = [f for f in judgement.findings if f.severity is Severity.FAULT]
    assert (judgement.verdict is Verdict.NONCONFORMING) == bool(faults)
    if judgement.verdict is Verdict.UNDECIDED:
        assert judgement.reasons
    assert "NaN" not in to_json(judgement)


def sides() -> list[GaugeSide]:
    return list(GaugeSide)


@given(loose | held_levels(), st.sampled_from(sides()))
@example([], GaugeSide.UNKNOWN)
@example([Sample(t_s=0.0)], GaugeSide.LINE)
@example([Sample(t_s=0.0, pressure_bar=28.0)], GaugeSide.LINE)
@example([Sample(t_s=k / 10) for k in range(50)], GaugeSide.CLOSING)
@example([Sample(t_s=k / 10, pressure_bar=0.0) for k in range(500)], GaugeSide.CLOSING)
@example([Sample(t_s=k / 10, pressure_bar=28.0) for k in range(500)], GaugeSide.UNKNOWN)
@example([Sample(t_s=k / 10, pressure_bar=float(k)) for k in range(500)], GaugeSide.UNKNOWN)
@settings(max_examples=120, deadline=None)
def test_any_curve_is_judged_with_every_phase_and_a_reason_for_every_doubt(samples, side):
    rig = Rig(name="any", gauge_side=side)
    expect_sound(judge(samples, joint=None, plan=PLAN, rig=rig))
    expect_sound(judge(samples, joint=None, plan=None, rig=rig))
    for hints in (HINTS, NO_HINTS):
        assert tuple(span.phase for span in detect(samples, hints, side).spans) == PHASES


@given(loose | held_levels(), st.booleans())
@settings(max_examples=120, deadline=None)
def test_any_curve_is_followed_live_to_an_end(samples, has_plan):
    setting = Setting(joint=None, plan=PLAN if has_plan else None)
    session, events = run_through(setting, samples)
    if not session.is_over:
        session, events = advance(session, Finish())
    assert session.is_over
    expect_sound(events[-1].judgement)
