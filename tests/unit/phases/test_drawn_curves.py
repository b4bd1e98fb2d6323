"""Detection on curves drawn from straight lines: every boundary where the line was bent."""

from itertools import pairwise, product

import pytest

from logger.domain.phase import PHASES, Phase
from logger.domain.rig import GaugeSide
from logger.phases.detect import Detection, detect
from logger.phases.levels import NO_HINTS, Hints, hints_of
from tests.drawn import DRAG_BAR, JOINING_BAR, Drawn, draw_joint
from tests.unit.judge.plans import JOINING, plan_of

HINTS = {"planned": hints_of(plan_of()), "unplanned": NO_HINTS}
RAMP_S = 5.0
VISIBLE_SIGMAS = 3.6
"""An edge smaller than this many standard deviations of the noise is not promised."""


def tolerance_s(rate_hz: float, noise_bar: float) -> float:
    """Two and a half sampling intervals, at least 0.1 s; half as much again in noise of one per cent."""
    return max(2.5 / rate_hz, 0.1) * (1.5 if noise_bar > 0.01 * JOINING_BAR else 1.0)


def drawn_starts(drawn: Drawn, hints: Hints) -> list[float]:
    """The six boundaries; with a plan, cooling begins where the ramp enters the joining band."""
    starts = [drawn.truth[phase][0] for phase in PHASES] + [drawn.truth[Phase.COOLING][1]]
    if hints.joining_band is not None and hints.joining_band.min is not None:
        share = (hints.joining_band.min - DRAG_BAR) / (JOINING_BAR - DRAG_BAR)
        starts[4] = starts[3] + share * RAMP_S
    return starts


def found_starts(detection: Detection) -> list[float | None]:
    assert tuple(span.phase for span in detection.spans) == PHASES
    assert all(a.end == b.start for a, b in pairwise(detection.spans))
    return [span.start.at_s for span in detection.spans] + [detection.spans[-1].end.at_s]


@pytest.mark.parametrize("noise_bar", [0.05, 0.3])
@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 50.0])
@pytest.mark.parametrize("soak_bar", [0.0, 1.0])
@pytest.mark.parametrize("side", [GaugeSide.LINE, GaugeSide.CLOSING])
@pytest.mark.parametrize("hints", HINTS.values(), ids=HINTS)
def test_each_visible_boundary_is_placed_and_an_invisible_one_is_null(
    hints, side, soak_bar, rate_hz, noise_bar
):
    line_side = side is GaugeSide.LINE
    # At 50 Hz a curve has five times the readings: one without preparation is enough there.
    for seed, preparation in ((1, False), (2, True))[: 1 if rate_hz > 10.0 else 2]:
        drawn = draw_joint(line_side=line_side, soak_bar=soak_bar, preparation=preparation, cooling_s=150.0)
        samples = drawn.samples(rate_hz=rate_hz, noise_bar=noise_bar, seed=seed)
        detection = detect(samples, hints, side)
        times = zip(found_starts(detection), drawn_starts(drawn, hints), (*PHASES, "end"), strict=True)
        for found_s, drawn_s, name in times:
            if name is Phase.CHANGEOVER and not line_side and soak_bar < VISIBLE_SIGMAS * noise_bar:
                continue
            assert found_s is not None, name
            assert found_s == pytest.approx(drawn_s, abs=tolerance_s(rate_hz, noise_bar)), name


@pytest.mark.parametrize("noise_bar", [0.05, 0.15, 0.3])
@pytest.mark.parametrize("side", [GaugeSide.CLOSING, GaugeSide.UNKNOWN])
@pytest.mark.parametrize("hints", HINTS.values(), ids=HINTS)
def test_an_opening_from_no_pressure_to_no_pressure_is_not_invented(hints, side, noise_bar):
    """The gauge on the closing side stands at zero before and after: only the closing stroke shows."""
    for seed, preparation in product((1, 2, 3, 4), (True, False)):
        drawn = draw_joint(line_side=False, soak_bar=0.0, preparation=preparation, cooling_s=150.0)
        changeover = detect(drawn.samples(noise_bar=noise_bar, seed=seed), hints, side).spans[2]
        assert changeover.start.at_s is None, (seed, preparation)
        assert changeover.start.reason == "opening_not_visible"


WRONG_TIMES = [
    {"open_s": 12.0},
    {"soak_s": 50.0},
    {"bead_up_s": 60.0},
    {"ramp_s": 9.0},
    {"ramp_s": 20.0},
    {"cooling_s": 90.0},
]
WRONG_PRESSURES = [
    {"joining_bar": 22.0},
    {"joining_bar": 34.0},
    {"bead_up_bar": 20.0},
    {"bead_up_bar": 36.0},
    {"soak_bar": 12.0},
]


def named(drawing: dict[str, float]) -> str:
    return ", ".join(f"{key}={value:g}" for key, value in drawing.items())


@pytest.mark.parametrize("drawing", WRONG_TIMES + WRONG_PRESSURES, ids=named)
def test_a_deviating_joint_is_found_whole_by_its_plan(drawing):
    drawn = draw_joint(**drawing)
    found = found_starts(detect(drawn.samples(), HINTS["planned"], GaugeSide.LINE))
    expect_all_but_cooling_start(found, drawn)


@pytest.mark.parametrize("drawing", WRONG_TIMES, ids=named)
def test_a_joint_of_unusual_times_is_found_whole_without_a_plan(drawing):
    """Preparation left out: without a plan only its shape tells an alignment check from a bead-up."""
    drawn = draw_joint(**drawing, preparation=False)
    found = found_starts(detect(drawn.samples(), NO_HINTS, GaugeSide.LINE))
    expect_all_but_cooling_start(found, drawn)


def test_an_opening_stroke_at_its_stop_is_not_the_joint_being_closed():
    """Above joining pressure for two seconds, long before the faces touch."""
    drawn = draw_joint(open_s=20.0)
    open_s, touch_s = drawn.truth[Phase.CHANGEOVER]
    before = [corner for corner in drawn.corners if corner[0] <= open_s]
    after = [corner for corner in drawn.corners if corner[0] >= touch_s]
    pulse = [(open_s + 0.5, 34.0), (open_s + 2.5, 34.0), (open_s + 2.7, 0.0), (touch_s - 2.0, 0.0)]
    stopped = Drawn((*before, *pulse, (touch_s - 1.7, DRAG_BAR), *after), {})
    found = found_starts(detect(stopped.samples(), HINTS["planned"], GaugeSide.LINE))
    assert found[3] == pytest.approx(touch_s, abs=0.2)
    assert found[5] == pytest.approx(drawn.truth[Phase.COOLING][1], abs=0.2)


@pytest.mark.parametrize("cooling_s", [60.0, 300.0])
def test_without_a_plan_facing_and_alignment_check_are_no_joint(cooling_s):
    drawn = draw_joint(cooling_s=cooling_s)
    detection = detect(drawn.samples(), NO_HINTS, GaugeSide.LINE)
    assert detection.others == ()
    for index in (0, 1, 3, 5):
        drawn_s = drawn_starts(drawn, NO_HINTS)[index]
        assert found_starts(detection)[index] == pytest.approx(drawn_s, abs=0.2), (*PHASES, "end")[index]


def test_without_a_plan_a_second_stage_of_cooling_is_no_release():
    drawn = draw_joint(preparation=False)
    start_s, end_s = drawn.truth[Phase.COOLING]
    corners = [corner for corner in drawn.corners if corner[0] < end_s]
    stages = [(start_s + 60.0, JOINING_BAR), (start_s + 61.0, DRAG_BAR + 2.0), (end_s, DRAG_BAR + 2.0)]
    both = Drawn((*corners, *stages, (end_s + 0.5, 0.0), (end_s + 20.0, 0.0)), {})
    end = detect(both.samples(), NO_HINTS, GaugeSide.LINE).spans[-1].end
    assert end.at_s == pytest.approx(end_s, abs=0.2)


def expect_all_but_cooling_start(found: list[float | None], drawn: Drawn) -> None:
    """Where cooling begins depends on the band: here only between the touch and the end of the ramp."""
    expected = drawn_starts(drawn, NO_HINTS)
    for index in (0, 1, 2, 3, 5):
        assert found[index] == pytest.approx(expected[index], abs=0.2), (*PHASES, "end")[index]
    assert found[4] is not None
    assert expected[3] < found[4] <= expected[4] + 0.2


@pytest.mark.parametrize("hints", HINTS.values(), ids=HINTS)
def test_where_the_pressure_was_never_let_down_the_soak_has_no_start(hints):
    drawn = draw_joint(soak_bar=JOINING_BAR, preparation=hints is not NO_HINTS)
    spans = detect(drawn.samples(), hints, GaugeSide.LINE).spans
    if hints is NO_HINTS:
        # Without a plan one long pressed stretch may be a bead-up with any soak: only the closing is sure.
        assert spans[3].start.at_s == pytest.approx(drawn.truth[Phase.PRESSURE_BUILD_UP][0], abs=0.2)
        return
    assert spans[1].start.at_s is None
    assert spans[1].start.reason == "no_let_down"
    assert spans[2].start.at_s == pytest.approx(drawn.truth[Phase.CHANGEOVER][0], abs=0.2)


def test_a_trace_that_ends_in_cooling_leaves_its_end_open():
    drawn = draw_joint()
    cut_s = drawn.truth[Phase.COOLING][0] + 200.0
    detection = detect([s for s in drawn.samples() if s.t_s < cut_s], HINTS["planned"], GaugeSide.LINE)
    assert detection.spans[-1].end.reason == "trace_ends"
    assert None not in found_starts(detection)[:5]


def test_a_trace_that_ends_in_the_soak_shows_bead_up_alone():
    drawn = draw_joint()
    cut_s = drawn.truth[Phase.HEAT_SOAK][0] + 60.0
    detection = detect([s for s in drawn.samples() if s.t_s < cut_s], HINTS["planned"], GaugeSide.LINE)
    found = found_starts(detection)
    assert found[:2] == [pytest.approx(drawn.truth[phase][0], abs=0.2) for phase in PHASES[:2]]
    assert found[2:] == [None] * 4
    assert {span.start.reason for span in detection.spans[2:]} == {"trace_ends"}


def test_preparation_alone_is_no_joint():
    drawn = draw_joint()
    before = [s for s in drawn.samples() if s.t_s < drawn.truth[Phase.BEAD_UP][0] - 3.0]
    detection = detect(before, HINTS["planned"], GaugeSide.LINE)
    assert detection.cycle is None
    assert {span.start.reason for span in detection.spans} == {"no_heating_cycle"}


def test_of_two_joints_in_one_trace_the_last_complete_one_is_told_apart():
    first, second = draw_joint(preparation=False), draw_joint(preparation=False, soak_s=110.0)
    shift_s = first.corners[-1][0] + 60.0
    corners = (*first.corners, *((t + shift_s, bar) for t, bar in second.corners))
    both = Drawn(corners, {})
    detection = detect(both.samples(), HINTS["planned"], GaugeSide.LINE)
    assert found_starts(detection)[0] == pytest.approx(second.truth[Phase.BEAD_UP][0] + shift_s, abs=0.2)
    (other,) = detection.others
    assert other.start_s == pytest.approx(first.truth[Phase.BEAD_UP][0], abs=2.0)
    assert other.end_s == pytest.approx(first.truth[Phase.COOLING][1], abs=2.0)


def test_the_joining_band_of_the_plan_decides_where_cooling_begins():
    """The same curve: with a plan at the band's lower edge, without one at the end of the ramp."""
    drawn = draw_joint()
    samples = drawn.samples()
    planned, unplanned = (
        detect(samples, hints, GaugeSide.LINE).spans[-1].start.at_s for hints in HINTS.values()
    )
    ramp_s, end_s = drawn.truth[Phase.PRESSURE_BUILD_UP]
    assert JOINING.min is not None
    at_min_s = ramp_s + RAMP_S * (JOINING.min - DRAG_BAR) / (JOINING_BAR - DRAG_BAR)
    assert planned == pytest.approx(at_min_s, abs=0.2)
    assert unplanned == pytest.approx(end_s, abs=0.2)
