"""One joint from its first sample to its judgement."""

from dataclasses import replace

import pytest

from logger.domain.event import JointEnded, PhaseChanged
from logger.domain.judgement import Verdict
from logger.domain.phase import PHASES, Phase
from logger.domain.rig import GaugeSide, Origin, Rig
from logger.domain.sample import Sample
from logger.judge.judge import judge
from logger.session.advance import TAIL_S, advance, judgement_of, run_through
from logger.session.state import Abort, Finish, SampleLog, Setting, opened
from tests.drawn import Drawn, draw_joint
from tests.unit.judge.plans import plan_of

RIG = Rig(name="drawn", gauge_side=GaugeSide.LINE)
SETTING = Setting(joint="D-1", plan=plan_of(), rig=RIG, origin=Origin.SIMULATED, time_scale=10.0)


def with_tail(seconds: float) -> Drawn:
    """A joint after which the gauge stands at nothing for this long; no preparation."""
    drawn = draw_joint(preparation=False)
    end_s = drawn.truth[Phase.COOLING][1] + 0.8 + seconds
    return Drawn((*drawn.corners[:-1], (end_s, 0.0)), drawn.truth)


DRAWN = with_tail(60.0)
SAMPLES = DRAWN.samples()
RELEASED_S = DRAWN.truth[Phase.COOLING][1]


def ends(events) -> list[JointEnded]:
    return [event for event in events if isinstance(event, JointEnded)]


class TestSampleLog:
    ROWS = tuple(Sample(t_s=float(k)) for k in range(5))

    def filled(self) -> SampleLog:
        log = SampleLog()
        for row in self.ROWS[:3]:
            log = log.appended(row)
        return log

    def test_appending_leaves_the_earlier_log_as_it_was(self):
        earlier = self.filled()
        later = earlier.appended(self.ROWS[3])
        assert (len(earlier), len(later)) == (3, 4)
        assert earlier.rows() == list(self.ROWS[:3])
        assert later.rows() == list(self.ROWS[:4])

    def test_two_futures_of_one_log_do_not_see_each_other(self):
        log = self.filled()
        one, other = log.appended(self.ROWS[3]), log.appended(self.ROWS[4])
        again = one.appended(self.ROWS[4])
        assert one.rows()[-1] == self.ROWS[3]
        assert other.rows()[-1] == self.ROWS[4]
        assert again.rows() == [*self.ROWS[:4], self.ROWS[4]]
        assert log.rows() == list(self.ROWS[:3])

    def test_the_rows_given_out_are_a_copy(self):
        log = self.filled()
        log.rows().append(self.ROWS[4])
        assert log.rows() == list(self.ROWS[:3])


def test_a_whole_joint_passes_through_the_five_phases_and_ends_by_itself():
    session, events = run_through(SETTING, SAMPLES)
    changes = [event for event in events if isinstance(event, PhaseChanged)]
    assert tuple(change.after for change in changes) == (*PHASES, None)
    (end,) = ends(events)
    assert events[-1] is end
    assert (end.how, end.reason) == ("finished", "released")
    assert end.judgement.verdict is Verdict.CONFORMING
    assert session.is_over


def test_the_joint_ends_once_the_pressure_has_stayed_off_for_the_tail():
    session, _ = run_through(SETTING, SAMPLES)
    last_s = session.samples.rows()[-1].t_s
    assert last_s == pytest.approx(RELEASED_S + TAIL_S, abs=3.0)
    before = [sample for sample in SAMPLES if sample.t_s < RELEASED_S + TAIL_S - 3.0]
    unfinished, early = run_through(SETTING, before)
    assert not unfinished.is_over
    assert ends(early) == []


def test_pressure_that_comes_back_within_the_tail_is_not_the_end():
    drawn = with_tail(20.0)
    at_s = drawn.corners[-1][0]
    back = Drawn(
        (*drawn.corners, (at_s + 1, 28.0), (at_s + 4, 28.0), (at_s + 5, 0.0), (at_s + 20, 0.0)), drawn.truth
    )
    session, _ = run_through(SETTING, back.samples())
    assert not session.is_over


def test_an_ended_joint_stays_as_it_is():
    session, _ = run_through(SETTING, SAMPLES)
    for item in (SAMPLES[-1], Abort(reason="late"), Finish()):
        assert advance(session, item) == (session, ())


def test_an_abort_judges_what_there_is_and_keeps_the_reason():
    half, _ = run_through(SETTING, [s for s in SAMPLES if s.t_s < DRAWN.truth[Phase.COOLING][0] + 100.0])
    session, events = advance(half, Abort(reason="clamp slipped"))
    (end,) = ends(events)
    assert (end.how, end.reason, session.is_over) == ("aborted", "clamp slipped", True)
    assert end.judgement.verdict is Verdict.UNDECIDED
    assert end.judgement.reasons == ("cooling.duration.trace_ends",)


@pytest.mark.parametrize("command", [Finish(), Finish(how="interrupted", reason="recorder away")])
def test_a_finish_says_how_and_why(command):
    half, _ = run_through(SETTING, SAMPLES[:2000])
    _, events = advance(half, command)
    (end,) = ends(events)
    assert (end.how, end.reason) == (command.how, command.reason)


def test_a_joint_without_a_single_sample_can_end_too():
    session, events = advance(opened(SETTING), Abort(reason="wrong pipe"))
    assert session.is_over
    assert ends(events)[0].judgement.reasons == ("no_heating_cycle",)


def test_advancing_leaves_the_state_before_as_it_was():
    half, _ = run_through(SETTING, SAMPLES[:1000])
    size, tracked = len(half.samples), half.tracked
    one, _ = advance(half, SAMPLES[1000])
    other, _ = advance(half, Abort(reason="no"))
    assert (len(half.samples), half.tracked, half.is_over) == (size, tracked, False)
    assert (len(one.samples), one.is_over) == (size + 1, False)
    assert (len(other.samples), other.is_over) == (size, True)


def test_the_judgement_of_a_session_is_that_of_its_samples():
    session, events = run_through(SETTING, SAMPLES)
    rows = session.samples.rows()
    direct = judge(rows, joint="D-1", plan=SETTING.plan, rig=RIG, origin=Origin.SIMULATED)
    assert judgement_of(session) == replace(direct, time_scale=10.0)
    assert ends(events)[0].judgement == judgement_of(session)
    assert direct.origin is Origin.SIMULATED


def test_what_was_called_in_error_is_withdrawn():
    """An alignment check looks like a bead-up until the next one follows far too early."""
    _, events = run_through(SETTING, draw_joint().samples())
    changes = [event for event in events if isinstance(event, PhaseChanged)]
    withdrawn = [k for k, change in enumerate(changes) if change.withdrawn]
    assert withdrawn
    assert tuple(change.after for change in changes[withdrawn[-1] :]) == (*PHASES, None)


def test_a_plate_switch_that_says_no_plate_lets_no_alignment_check_pass_for_a_bead_up():
    drawn = draw_joint()
    in_s, out_s = drawn.truth[Phase.BEAD_UP][0] - 3.0, drawn.truth[Phase.CHANGEOVER][0]
    samples = [
        Sample(t_s=s.t_s, pressure_bar=s.pressure_bar, plate_in=in_s < s.t_s < out_s) for s in drawn.samples()
    ]
    _, events = run_through(SETTING, samples)
    changes = [event for event in events if isinstance(event, PhaseChanged)]
    assert tuple(change.after for change in changes) == (*PHASES, None)
    assert not any(change.withdrawn for change in changes)


def test_a_joint_whose_pressure_was_never_let_down_ends_by_itself_too():
    drawn = draw_joint(preparation=False, soak_bar=28.0)
    end_s = drawn.corners[-1][0] + 60.0
    session, events = run_through(SETTING, Drawn((*drawn.corners[:-1], (end_s, 0.0)), drawn.truth).samples())
    assert session.is_over
    assert ends(events)[0].judgement.verdict is Verdict.NONCONFORMING
