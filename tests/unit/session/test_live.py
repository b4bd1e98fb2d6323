"""Boundaries revised by the fit that judges, and the times that count from them."""

from dataclasses import replace

import pytest

from logger.domain.event import BeadNotConfirmed, BoundaryRevised, DragOffered, DragWithdrawn, JointEnded
from logger.domain.judgement import Boundary
from logger.domain.phase import PHASES, Phase
from logger.session.advance import advance
from logger.session.live import live_of
from logger.session.placed import called, fitted
from logger.session.state import ConfirmBead, SessionState, opened
from tests.drawn import DRAG_BAR, JOINING_BAR, draw_joint
from tests.unit.judge.plans import JOINING, around, plan_of
from tests.unit.session.curves import PLANNED, UNNAMED, Curve

DRAWN = draw_joint(preparation=False)
LATE_S = {Phase.BEAD_UP: 4.5, Phase.HEAT_SOAK: 4.0, Phase.CHANGEOVER: 3.5, Phase.COOLING: 4.0}


def states(setting, samples):
    """State and events after each sample."""
    state = opened(setting)
    for sample in samples:
        state, events = advance(state, sample)
        yield sample, state, events


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 50.0])
def test_every_boundary_is_fitted_within_seconds_and_close_to_what_was_drawn(rate_hz):
    revised: dict[str, BoundaryRevised] = {}
    for _, _, events in states(PLANNED, DRAWN.samples(rate_hz=rate_hz)):
        for event in events:
            if isinstance(event, BoundaryRevised):
                first = event.phase not in revised
                revised[event.phase] = event
                if first and event.edge == "start" and event.phase in LATE_S:
                    assert event.seen_at_s < DRAWN.truth[event.phase][0] + LATE_S[event.phase] + 2 / rate_hz
    assert set(revised) == set(PHASES)
    assert revised[Phase.COOLING].edge == "end"
    for phase in PHASES[:4]:
        event = revised[phase]
        assert event.u_s is not None
        assert abs(event.to_s - DRAWN.truth[phase][0]) < max(3 * event.u_s, 0.15)
    assert revised[Phase.COOLING].to_s == pytest.approx(DRAWN.truth[Phase.COOLING][1], abs=0.15)


def test_revisions_chain_so_that_none_is_silent():
    """Each begins where the state stood, and the state moves only by a revision or a change of phase."""
    shown: dict[Phase, float] = {}
    for _, state, events in states(PLANNED, DRAWN.samples()):
        for event in events:
            if isinstance(event, BoundaryRevised) and event.edge == "start":
                assert shown[event.phase] == event.from_s
                shown[event.phase] = event.to_s
        for phase, start in state.starts.items():
            assert shown.setdefault(phase, start.at_s) == start.at_s


def test_the_live_boundaries_are_those_of_the_judgement_within_their_uncertainty():
    tail = [
        replace(DRAWN.samples()[-1], t_s=DRAWN.corners[-1][0] + k / 10, pressure_bar=0.0) for k in range(600)
    ]
    *_, (_, state, events) = (
        step for step in states(PLANNED, [*DRAWN.samples(), *tail]) if not step[1].is_over or step[2]
    )
    (ended,) = [event for event in events if isinstance(event, JointEnded)]
    for span in ended.judgement.phases:
        live = state.starts[span.phase]
        assert live.u_s is not None
        assert live.at_s == pytest.approx(span.start.at_s, abs=2 * (live.u_s + span.start.u_s))


def test_a_followed_countdown_is_never_found_too_short():
    """Whatever was shown as done at any moment is still done by what is known at the end."""
    shown: dict[tuple[Phase, int | None], float] = {}
    last: SessionState | None = None
    for sample, state, _ in states(PLANNED, DRAWN.samples()):
        live = live_of(state, sample.t_s, is_old=False)
        for limit in live.limits:
            if not limit.is_max and live.phase is not None:
                ends_s = limit.from_s + limit.limit_s
                key = (live.phase, limit.step)
                assert ends_s >= shown.get(key, 0.0), "a countdown never jumps ahead"
                shown[key] = ends_s
        last = state
    assert last is not None
    assert set(shown) == {(Phase.HEAT_SOAK, None), (Phase.COOLING, None)}
    in_band_s = DRAWN.truth[Phase.PRESSURE_BUILD_UP][0] + 5.0 * (26.5 - DRAG_BAR) / (JOINING_BAR - DRAG_BAR)
    begun_s = {Phase.HEAT_SOAK: DRAWN.truth[Phase.HEAT_SOAK][0], Phase.COOLING: in_band_s}
    for phase, limit_s in ((Phase.HEAT_SOAK, 100.0), (Phase.COOLING, 280.0)):
        assert begun_s[phase] + limit_s <= shown[phase, None] < begun_s[phase] + limit_s + 3.0


def test_greatest_times_count_from_the_early_edge():
    truth = DRAWN.truth[Phase.CHANGEOVER][0]
    for sample, state, _ in states(PLANNED, DRAWN.samples()):
        live = live_of(state, sample.t_s, is_old=False)
        if live.phase is Phase.CHANGEOVER:
            (limit,) = live.limits
            assert limit.is_max
            assert limit.from_s == live.start.early_s <= live.start.at_s
            assert limit.from_s == pytest.approx(truth, abs=0.6)
            assert limit.then == "limit_passed"


def test_bead_up_has_no_time_that_prompts_the_let_down():
    plan = plan_of()
    step = replace(plan.step_of(Phase.BEAD_UP), duration_s=around(20.0, 5.0))
    setting = replace(PLANNED, plan=replace(plan, steps=(step, *plan.steps[1:])))
    thens = set()
    for sample, state, _ in states(setting, DRAWN.samples()):
        live = live_of(state, sample.t_s, is_old=False)
        if live.phase is Phase.BEAD_UP:
            thens |= {limit.then for limit in live.limits}
    assert thens == {"check_bead"}


def test_two_cooling_steps_count_on():
    setting = replace(PLANNED, plan=plan_of(cooling=((JOINING, 50.0), (around(10.0, 1.0), 200.0))))
    curve = Curve().hold(5).joint(cooling=lambda c: c.hold(60).line(2, 10).hold(240))
    *_, (sample, state, _) = (
        s for s in states(setting, curve.samples()) if s[1].tracked.phase is Phase.COOLING
    )
    first, second = live_of(state, sample.t_s, is_old=False).limits
    assert (first.step, first.limit_s, second.step, second.limit_s) == (1, 50.0, 2, 250.0)


def test_over_a_gap_there_is_no_figure_and_a_start_lost_in_it_stays_without():
    let_down_s = DRAWN.truth[Phase.HEAT_SOAK][0]
    samples = [s for s in DRAWN.samples() if not let_down_s - 4.0 < s.t_s < let_down_s + 3.0]
    unsure = {}
    for sample, state, _ in states(PLANNED, samples):
        live = live_of(state, sample.t_s, is_old=False)
        if live.phase is Phase.HEAT_SOAK:
            unsure[round(sample.t_s - let_down_s, 1)] = live.unsure
            assert all((limit.remaining_s is None) == bool(live.unsure) for limit in live.limits)
    assert set(unsure.values()) == {"gap", "gap_over_boundary"}
    assert list(unsure.values())[-1] == "gap_over_boundary"


def test_old_data_has_no_figure():
    *_, (sample, state, _) = (
        s for s in states(PLANNED, DRAWN.samples()) if s[1].tracked.phase is Phase.HEAT_SOAK
    )
    (limit,) = live_of(state, sample.t_s, is_old=True).limits
    assert (limit.elapsed_s, limit.remaining_s) == (None, None)
    (limit,) = live_of(state, sample.t_s, is_old=False).limits
    assert limit.remaining_s is not None


def test_a_late_edge_never_moves_back():
    start = called(Phase.HEAT_SOAK, 10.0, 11.0)
    better = fitted(start, Boundary(at_s=9.5, u_s=0.1))
    assert (better.at_s, better.early_s, better.late_s) == (9.5, pytest.approx(9.316, abs=1e-3), 11.0)
    later = fitted(better, Boundary(at_s=11.2, u_s=0.1))
    assert later.late_s == pytest.approx(11.384, abs=1e-3)
    assert fitted(later, Boundary(at_s=11.21, u_s=0.1)) is later
    assert fitted(later, Boundary(at_s=40.0, u_s=0.1)) is later
    assert fitted(later, Boundary(reason="gap_over_boundary")) is later
    assert fitted(start, Boundary(reason="gap_over_boundary")).unsure == "gap_over_boundary"


def told(setting, curve: Curve, kind: type, *said):
    state = opened(setting)
    events = []
    for sample in curve.samples():
        state, new = advance(state, sample)
        events += new
        for command in [c for c in said if c.at_s <= sample.t_s < c.at_s + 0.1]:
            state, new = advance(state, command)
            events += new
    return [event for event in events if isinstance(event, kind)]


def test_a_drag_is_offered_from_a_slow_closing_stroke_with_its_breakaway_apart():
    (offer,) = told(PLANNED, Curve().hold(5).stroke(bar=8.4).hold(5), DragOffered)
    assert offer.pressure_bar == pytest.approx(8.4, abs=0.1)
    assert offer.spread_bar < 0.3
    assert offer.breakaway_bar == pytest.approx(1.3 * 8.4, abs=0.6)
    assert offer.is_closing_seen


@pytest.mark.parametrize(
    ("why", "curve"),
    [
        ("an opening stroke", lambda c: c.stroke(mm_per_s=-12.0)),
        ("too fast", lambda c: c.stroke(mm_per_s=70.0, seconds=2.5)),
        ("too short", lambda c: c.stroke(seconds=1.5)),
        ("a hold: nothing moved", lambda c: c.stroke(bar=28.0, mm_per_s=0.0)),
        ("not steady", lambda c: c.line(0.3, 6, 200.0).line(6, 12, 130.0).line(0.3, 0)),
    ],
)
def test_no_drag_is_offered_from(why, curve):
    assert told(PLANNED, curve(Curve().line(5, 0, 200.0)).hold(5), DragOffered) == [], why


def test_facing_withdraws_what_was_offered_before():
    curve = Curve().hold(5).stroke().hold(5)
    assert told(PLANNED, curve, DragWithdrawn) == []
    (withdrawn,) = told(PLANNED, curve.press(13, 60).hold(5), DragWithdrawn)
    assert withdrawn.pressure_bar == pytest.approx(8.0, abs=0.1)
    *_, last = told(PLANNED, curve.line(4, 0, 200.0).stroke(bar=8.8).hold(5), DragOffered)
    assert last.pressure_bar == pytest.approx(8.8, abs=0.1)


def test_without_a_carriage_the_lowest_plateau_since_facing_counts_and_says_so():
    offers = told(
        PLANNED, Curve().hold(5).press(8, 6).hold(10).press(12, 6).hold(10).press(7.5, 6).hold(5), DragOffered
    )
    assert [round(offer.pressure_bar, 1) for offer in offers] == [8.0, 7.5]
    assert not any(offer.is_closing_seen for offer in offers)


def test_without_a_plan_nothing_is_offered():
    assert told(UNNAMED, Curve().hold(5).stroke().hold(5), DragOffered) == []


def test_a_bead_that_was_not_confirmed_is_said_at_the_end_and_one_that_was_is_not():
    curve = Curve().hold(5).joint().hold(60)
    assert len(told(PLANNED, curve, BeadNotConfirmed)) == 1
    assert told(PLANNED, curve, BeadNotConfirmed, ConfirmBead(by="R. Amsel", at_s=25.0)) == []
