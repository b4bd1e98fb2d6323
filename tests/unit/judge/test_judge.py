"""Judgement of drawn curves: each deviation by its code, each doubt by its reason, nothing besides."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from logger.domain.band import NO_BAND
from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.judgement import Judgement, Severity, Verdict
from logger.domain.phase import PHASES, Phase
from logger.domain.rig import GaugeSide, Rig
from logger.domain.sample import Sample
from logger.judge.judge import judge
from tests.drawn import DRAG_BAR, JOINING_BAR, Drawn, draw_joint
from tests.unit.judge.plans import JOINING, around, band, plan_of

LINE_SIDE = Rig(name="drawn", gauge_side=GaugeSide.LINE)
DRAWN = draw_joint()
SAMPLES = DRAWN.samples()
COOLING_S, RELEASED_S = DRAWN.truth[Phase.COOLING]


def judged(samples: list[Sample], plan=None, rig: Rig = LINE_SIDE) -> Judgement:
    return judge(samples, joint="D-1", plan=plan or plan_of(), rig=rig)


def faults(judgement: Judgement) -> set[str]:
    return {finding.code for finding in judgement.findings if finding.severity is Severity.FAULT}


def remarks(judgement: Judgement) -> set[str]:
    return {finding.code for finding in judgement.findings if finding.severity is Severity.REMARK}


def without_pressure(samples: list[Sample], from_s: float, to_s: float) -> list[Sample]:
    """The transmitter says nothing; the plate thermometer goes on."""
    return [replace(s, pressure_bar=None) if from_s < s.t_s < to_s else s for s in samples]


def silent(samples: list[Sample], from_s: float, to_s: float) -> list[Sample]:
    return [s for s in samples if not from_s < s.t_s < to_s]


def until(end_s: float) -> list[Sample]:
    return [s for s in SAMPLES if s.t_s < end_s]


def with_uncertainty(u_bar: float) -> Rig:
    scaling = Scaling(gain=0.001)
    channel = Channel(quantity=Quantity.PRESSURE, scaling=scaling, standard_uncertainty=u_bar)
    return replace(LINE_SIDE, channels=(channel,))


def test_the_joint_that_keeps_to_its_plan_is_conforming():
    judgement = judged(SAMPLES)
    assert judgement.verdict is Verdict.CONFORMING
    assert (judgement.findings, judgement.reasons) == ((), ())


@pytest.mark.parametrize(
    ("drawing", "code", "measured"),
    [
        ({"open_s": 9.0}, "changeover.duration.long", 9.0),
        ({"joining_bar": 24.0}, "cooling.pressure.low", 24.0),
        ({"joining_bar": 32.0}, "cooling.pressure.high", 32.0),
        ({"bead_up_bar": 22.0}, "bead_up.pressure.low", 22.0),
        ({"bead_up_bar": 34.0}, "bead_up.pressure.high", 34.0),
        ({"soak_bar": 12.0}, "heat_soak.pressure.high", 12.0),
        ({"soak_bar": 18.0}, "heat_soak.pressure.high", 18.0),
        ({"soak_bar": 25.5}, "heat_soak.pressure.high", 25.5),
        ({"soak_bar": JOINING_BAR}, "heat_soak.pressure.high", JOINING_BAR),
        ({"soak_s": 60.0}, "heat_soak.duration.short", 60.8),
        ({"ramp_s": 9.0}, "pressure_build_up.duration.long", 9.0 * 18.5 / 20.0),
        ({"cooling_s": 200.0}, "cooling.duration.short", 200.0 + 5.0 * 1.5 / 20.0),
    ],
)
def test_each_deviation_has_its_code_its_size_and_its_clause(drawing, code, measured):
    judgement = judged(draw_joint(**drawing).samples())
    assert judgement.verdict is Verdict.NONCONFORMING
    assert faults(judgement) == {code}
    (finding,) = [f for f in judgement.findings if f.severity is Severity.FAULT]
    assert finding.measured == pytest.approx(measured, abs=0.3)
    assert finding.unit == ("s" if ".duration." in code else "bar")
    assert finding.limit is not None
    assert "invented for the tests" in finding.clause
    assert finding.start_s is not None
    assert finding.end_s is not None
    assert finding.start_s < finding.end_s


@pytest.mark.parametrize(
    ("drawing", "code"),
    [
        ({"bead_up_s": 70.0}, "bead_up.duration.long"),
        ({"soak_s": 140.0}, "heat_soak.duration.long"),
        ({"ramp_s": 1.0}, "pressure_build_up.duration.short"),
    ],
)
def test_what_the_procedure_does_not_limit_is_remarked_and_decides_nothing(drawing, code):
    judgement = judged(draw_joint(**drawing).samples())
    assert judgement.verdict is Verdict.CONFORMING
    assert remarks(judgement) == {code}
    assert "common practice, no source" in judgement.findings[0].clause


@pytest.mark.parametrize(
    ("from_s", "lasts_s", "found"),
    [
        (1.0, 5.0, {"pressure_build_up.pressure.high"}),
        (5.5, 8.0, {"pressure_build_up.pressure.high"}),
        (1.0, 30.0, {"cooling.pressure.high"}),
        (9.0, 5.0, {"cooling.pressure.high"}),
    ],
)
def test_pressure_that_shoots_over_soon_and_comes_back_is_the_build_ups(from_s, lasts_s, found):
    over = [
        replace(s, pressure_bar=(s.pressure_bar or 0.0) + 4.0)
        if COOLING_S + from_s < s.t_s < COOLING_S + from_s + lasts_s
        else s
        for s in SAMPLES
    ]
    judgement = judged(over)
    assert faults(judgement) | remarks(judgement) == found


def test_a_limit_the_procedure_does_give_makes_the_same_deviation_a_fault():
    plan = plan_of()
    steps = tuple(
        replace(step, duration_s=band(high=60.0)) if step.phase is Phase.BEAD_UP else step
        for step in plan.steps
    )
    judgement = judged(draw_joint(bead_up_s=70.0).samples(), replace(plan, steps=steps))
    assert faults(judgement) == {"bead_up.duration.long"}


@pytest.mark.parametrize("blank", [silent, without_pressure])
@pytest.mark.parametrize(
    ("at_s", "names"),
    [
        (DRAWN.truth[Phase.BEAD_UP][0] + 0.5, {"bead_up.start"}),
        (DRAWN.truth[Phase.HEAT_SOAK][0], {"heat_soak.start"}),
        (DRAWN.truth[Phase.CHANGEOVER][0], {"changeover.start"}),
        (DRAWN.truth[Phase.PRESSURE_BUILD_UP][0], {"pressure_build_up.start", "cooling.start"}),
        (COOLING_S - 1.0, {"cooling.start"}),
        (RELEASED_S, {"cooling.end"}),
    ],
    ids=["bead-up", "let-down", "opening", "touch", "ramp", "release"],
)
def test_a_gap_over_a_boundary_leaves_it_null_and_the_joint_undecided(
    at_s: float, names: set[str], blank: Callable[[list[Sample], float, float], list[Sample]]
):
    judgement = judged(blank(SAMPLES, at_s - 3.0, at_s + 3.0))
    assert judgement.verdict is Verdict.UNDECIDED
    assert faults(judgement) == set()
    assert judgement.reasons
    boundaries = {f"{span.phase}.start": span.start for span in judgement.phases}
    boundaries["cooling.end"] = judgement.phases[-1].end
    for name in names:
        assert boundaries[name].at_s is None
        assert boundaries[name].reason == "gap_over_boundary"
        assert boundaries[name].u_s == pytest.approx(6.0 / 12**0.5, rel=0.1), "could be anywhere in the gap"
    seen = {name for name, boundary in boundaries.items() if boundary.at_s is not None}
    assert len(seen) >= 4, "the gap takes away what lies in it and nothing else"


@pytest.mark.parametrize("blank", [silent, without_pressure])
def test_a_gap_in_steady_cooling_or_soak_does_not_lose_the_joint(blank):
    soak_s = DRAWN.truth[Phase.HEAT_SOAK][0]
    judgement = judged(blank(blank(SAMPLES, COOLING_S + 100, COOLING_S + 120), soak_s + 50, soak_s + 60))
    assert judgement.verdict is Verdict.CONFORMING
    assert all(span.duration_s is not None for span in judgement.phases)


@pytest.mark.parametrize("after_s", [0.6, 0.8, 1.0])
def test_readings_lost_before_a_lagging_gauge_shows_the_band_are_no_low_pressure(after_s):
    shown, late = 0.0, []
    for sample in SAMPLES:
        shown += (sample.pressure_bar - shown) * 0.1 / 0.8
        late.append(replace(sample, pressure_bar=round(shown, 3)))
    entered_s = judged(late).phases[-1].start.at_s
    assert faults(judged(silent(late, entered_s + after_s, entered_s + 7.0))) == set()


def test_a_cooling_that_was_hardly_observed_cannot_be_called_good():
    judgement = judged(silent(SAMPLES, COOLING_S + 60, COOLING_S + 200))
    assert judgement.verdict is Verdict.UNDECIDED
    assert "cooling.pressure.not_observed" in judgement.reasons


def test_a_fault_that_was_seen_outweighs_what_was_not():
    samples = silent(draw_joint(open_s=9.0).samples(), COOLING_S + 60, COOLING_S + 200)
    judgement = judged(samples)
    assert judgement.verdict is Verdict.NONCONFORMING
    assert judgement.reasons


def test_a_transmitter_that_froze_counts_as_not_observed():
    """It stands at a good value: taken at its word it would hide anything."""
    frozen = [
        replace(s, pressure_bar=28.013) if COOLING_S + 60 < s.t_s < COOLING_S + 200 else s for s in SAMPLES
    ]
    judgement = judged(frozen)
    assert judgement.verdict is Verdict.UNDECIDED
    assert judgement.reasons == ("cooling.pressure.not_observed",)


def test_a_transmitter_that_froze_over_the_release_leaves_the_end_open():
    frozen = [
        replace(s, pressure_bar=28.013) if RELEASED_S - 20 < s.t_s < RELEASED_S + 8 else s for s in SAMPLES
    ]
    end = judged(frozen).phases[-1].end
    assert (end.at_s, end.reason) == (None, "gap_over_boundary")


def test_a_trace_that_ends_before_cooling_is_done_is_undecided():
    judgement = judged(until(COOLING_S + 200))
    assert judgement.verdict is Verdict.UNDECIDED
    assert judgement.reasons == ("cooling.duration.trace_ends",)
    assert judgement.phases[-1].end.reason == "trace_ends"


def test_a_trace_that_ends_once_cooling_is_done_is_fine():
    assert judged(until(COOLING_S + 290)).verdict is Verdict.CONFORMING


@pytest.mark.parametrize(
    ("margin_s", "verdict"), [(0.2, Verdict.CONFORMING), (0.0, Verdict.UNDECIDED), (-0.2, Verdict.UNDECIDED)]
)
def test_a_trace_that_ends_about_when_cooling_is_done_is_held_to_the_guard_band(margin_s, verdict):
    cut = until(COOLING_S + 200)
    began_s = judged(cut).phases[-1].start.at_s
    assert began_s is not None
    seen_s = cut[-1].t_s - began_s
    assert judged(cut, plan_of(cooling=((JOINING, seen_s - margin_s),))).verdict is verdict


def dual_pressure(second_bar: float = 14.0, first_stage_s: float = 60.0) -> Drawn:
    """Cooling at joining pressure for about 60 s, then the rest at a lower one."""
    drawn = draw_joint(cooling_s=first_stage_s)
    *before, (released_s, _), (_, _), (_, _) = drawn.corners
    after = [(released_s, JOINING_BAR), (released_s + 2.0, second_bar), (released_s + 252.0, second_bar)]
    end_s = after[-1][0]
    return Drawn((*before, *after, (end_s + 0.8, 0.0), (end_s + 15.0, 0.0)), drawn.truth)


TWO_STEPS = plan_of(cooling=((around(JOINING_BAR, 1.5), 58.0), (around(14.0, 1.5), 240.0)))


def test_two_stages_of_cooling_are_one_cooling_each_held_to_its_own_pressure():
    judgement = judged(dual_pressure().samples(), TWO_STEPS)
    assert judgement.verdict is Verdict.CONFORMING, (judgement.findings, judgement.reasons)
    assert judgement.phases[-1].duration_s == pytest.approx(60.0 + 252.0, abs=1.0)


@pytest.mark.parametrize(
    ("second_bar", "code"), [(11.0, "cooling.pressure.low"), (18.0, "cooling.pressure.high")]
)
def test_the_second_stage_has_its_own_limits(second_bar, code):
    judgement = judged(dual_pressure(second_bar).samples(), TWO_STEPS)
    assert faults(judgement) == {code}
    (finding,) = judgement.findings
    assert finding.measured == pytest.approx(second_bar, abs=0.3)


def test_a_second_stage_released_early_is_a_short_cooling():
    drawn = dual_pressure()
    at_s = drawn.truth[Phase.COOLING][1] + 100.0
    corners = [c for c in drawn.corners if c[0] < at_s]
    early = Drawn((*corners, (at_s, 14.0), (at_s + 0.8, 0.0), (at_s + 15.0, 0.0)), drawn.truth)
    assert faults(judged(early.samples(), TWO_STEPS)) == {"cooling.duration.short"}


@pytest.mark.parametrize("plate_degC", [205.0, 235.0])
def test_the_plate_is_judged_before_contact(plate_degC):
    samples = [replace(s, plate_temperature_degC=plate_degC) for s in SAMPLES]
    direction = "low" if plate_degC < 220.0 else "high"
    assert faults(judged(samples)) == {f"plate.temperature.{direction}"}


def test_the_dip_on_contact_is_allowed_for_and_a_plate_that_stays_cold_is_not():
    contact_s = DRAWN.truth[Phase.BEAD_UP][0]

    def dipped(for_s: float) -> list[Sample]:
        return [
            replace(s, plate_temperature_degC=206.0) if contact_s + 5 < s.t_s < contact_s + for_s else s
            for s in SAMPLES
        ]

    assert judged(dipped(45.0)).verdict is Verdict.CONFORMING
    assert faults(judged(dipped(100.0))) == {"plate.temperature.low"}


def test_the_plate_is_nobodys_business_once_it_is_out():
    out_s = DRAWN.truth[Phase.CHANGEOVER][0]
    samples = [replace(s, plate_temperature_degC=20.0) if s.t_s > out_s + 0.5 else s for s in SAMPLES]
    assert judged(samples).verdict is Verdict.CONFORMING


def test_without_a_plate_thermometer_the_plate_is_undecided():
    judgement = judged([replace(s, plate_temperature_degC=None) for s in SAMPLES])
    assert judgement.verdict is Verdict.UNDECIDED
    assert judgement.reasons == ("plate.temperature.not_observed",)


def test_a_pressure_near_its_limit_is_undecided_once_the_transmitter_says_how_well_it_knows():
    samples = draw_joint(joining_bar=26.9, bead_up_bar=JOINING_BAR).samples()
    assert judged(samples).verdict is Verdict.CONFORMING
    assert judged(samples, rig=with_uncertainty(0.1)).verdict is Verdict.CONFORMING
    judgement = judged(samples, rig=with_uncertainty(0.5))
    assert judgement.verdict is Verdict.UNDECIDED
    assert judgement.reasons == ("cooling.pressure.low.within_uncertainty",)


def test_where_no_uncertainty_is_declared_the_record_says_that_it_was_compared_plainly():
    plain = {"pressure.uncertainty.not_declared", "plate.uncertainty.not_declared"}
    assert plain <= set(judged(SAMPLES).information)
    assert plain & set(judged(SAMPLES, rig=with_uncertainty(0.1)).information) == {
        "plate.uncertainty.not_declared"
    }


def test_a_soak_pressure_near_its_limit_is_undecided_likewise():
    samples = draw_joint(soak_bar=DRAG_BAR + 1.3).samples()
    assert judged(samples).verdict is Verdict.CONFORMING
    judgement = judged(samples, rig=with_uncertainty(0.3))
    assert judgement.reasons == ("heat_soak.pressure.high.within_uncertainty",)


def test_a_pressure_just_beyond_its_limit_is_no_fault_while_it_cannot_be_told():
    samples = draw_joint(joining_bar=26.2, bead_up_bar=JOINING_BAR).samples()
    assert faults(judged(samples)) == {"cooling.pressure.low"}
    judgement = judged(samples, rig=with_uncertainty(0.5))
    assert judgement.verdict is Verdict.UNDECIDED
    assert faults(judgement) == set()


@pytest.mark.parametrize("rate_hz", [1.0, 10.0, 50.0])
def test_a_duration_always_carries_the_uncertainty_of_sampling(rate_hz):
    judgement = judged(draw_joint(open_s=12.0).samples(rate_hz=rate_hz))
    (finding,) = [f for f in judgement.findings if f.code == "changeover.duration.long"]
    assert finding.standard_uncertainty is not None
    assert finding.standard_uncertainty >= 1.0 / rate_hz / 6**0.5 * 0.999


@pytest.mark.parametrize(
    ("margin_s", "verdict"),
    [
        (0.5, Verdict.CONFORMING),
        (0.03, Verdict.UNDECIDED),
        (-0.03, Verdict.UNDECIDED),
        (-0.5, Verdict.NONCONFORMING),
    ],
)
def test_a_duration_within_the_guard_band_of_its_limit_cannot_be_decided(margin_s, verdict):
    """At 10 Hz sampling alone makes the guard band 1.645 x 0.1 s / sqrt 6 = 0.067 s wide. Without
    carriage the gauge leaves coming free and touching open by a tenth of a second each: 0.23 s together.
    """
    measured_s = judged(SAMPLES).phases[2].duration_s
    assert measured_s is not None
    assert judged(SAMPLES, plan_of(changeover_max_s=measured_s + margin_s)).verdict is verdict


def test_without_a_plan_there_are_phases_and_no_verdict():
    judgement = judge(SAMPLES, joint=None, plan=None, rig=LINE_SIDE)
    assert (judgement.verdict, judgement.reasons) == (Verdict.UNDECIDED, ("no_plan",))
    assert all(span.duration_s is not None for span in judgement.phases)


def test_without_samples_every_phase_is_there_and_null():
    judgement = judged([])
    assert (judgement.verdict, judgement.reasons) == (Verdict.UNDECIDED, ("no_heating_cycle",))
    assert tuple(span.phase for span in judgement.phases) == PHASES
    assert {span.start.reason for span in judgement.phases} == {"no_heating_cycle"}


def test_a_plan_without_gauge_pressures_decides_no_pressure():
    plan = plan_of()
    steps = tuple(replace(step, gauge_pressure_bar=NO_BAND) for step in plan.steps)
    judgement = judged(SAMPLES, replace(plan, steps=steps, drag_pressure_bar=None))
    assert judgement.verdict is Verdict.UNDECIDED
    assert "gauge_pressure_not_planned" in judgement.reasons
    assert faults(judgement) == set()
