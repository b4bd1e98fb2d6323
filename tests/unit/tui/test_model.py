"""What the monitor knows: messages in, picture out."""

import pytest

from logger.domain.phase import PHASES, Phase
from tests.unit.tui.fake_link import UUID, event, samples, snapshot, state, update
from tests.unit.tui.screens import message_at
from tui.deviations import Subject
from tui.glance import Trust
from tui.model import OLD_AFTER_S, Picture


def picture_at(now_s, **changes):
    picture = Picture()
    picture.take(message_at(now_s, **changes), 10.0)
    return picture


def go_on(picture, phase, since_s, pressure, plate=220.0):
    """More samples, 0.1 s apart, of this phase."""
    first = picture.last_seq + 1
    times = [(first + k - 1) / 10 for k in range(len(pressure))]
    run = samples(first, times, pressure, [plate] * len(pressure))
    picture.take(update(state(phase, since_s, times[-1]), run), 10.1)


def test_a_late_viewer_knows_the_phases_from_before():
    picture = picture_at(300.0)
    assert [phase for phase, _, _ in picture.phases] == list(PHASES)
    assert picture.phases[-1] == (Phase.COOLING, 203.8, None)
    assert picture.phases[0] == (Phase.BEAD_UP, 118.0, 136.0)
    assert len(picture.pressure) == 3001


def test_a_clean_joint_has_no_deviation():
    assert picture_at(585.0).watch.seen == []
    assert not picture_at(585.0).is_spoilt


def test_a_revised_start_moves_the_phase_and_makes_no_new_one():
    picture = picture_at(300.0)
    revised = state("cooling", 204.1, 301.0, events=(event(9, 204.1, "phase.revised"),))
    picture.take(update(revised), 10.1)
    assert [phase for phase, _, _ in picture.phases] == list(PHASES)
    assert picture.phases[-1] == (Phase.COOLING, 204.1, None)


def test_samples_known_already_change_nothing():
    picture = picture_at(300.0)
    again = message_at(300.0)
    picture.take(again, 10.1)
    assert len(picture.pressure) == 3001


def test_samples_of_another_joint_begin_anew():
    picture = picture_at(300.0)
    other = UUID.replace("117", "118")
    now = state(None, 0.0, 1.0, joint="K-118", joint_uuid=other)
    picture.take(snapshot(now), 10.1)
    assert len(picture.pressure) == 0
    assert picture.phases == []
    assert picture.joint_uuid == other


def test_a_joint_that_has_ended_stands_still_on_its_own_clock():
    picture = picture_at(590.0)
    after = state(
        None, 0.0, 99_999.0, joint=None, joint_uuid=None, last_joint_uuid=UUID, last_verdict="conforming"
    )
    picture.take(snapshot(after, planned=False), 10.1)
    assert picture.now_s == 590.0
    assert picture.is_released
    assert picture.plan is not None
    assert "conforming" in picture.cue(10.2).action


def test_age_and_trust():
    picture = Picture()
    assert picture.trust(0.0) is Trust.OLD
    picture = picture_at(300.0)
    assert picture.trust(10.0 + OLD_AFTER_S) is Trust.FULL
    assert picture.trust(10.0 + OLD_AFTER_S + 0.01) is Trust.OLD
    picture.lose("gone")
    assert picture.trust(10.0) is Trust.OLD


@pytest.mark.parametrize(("bar", "worst"), [(8.3, -2.0), (11.6, 1.0)])
def test_a_deviation_says_how_far_and_how_long(bar, worst):
    picture = picture_at(300.0)
    go_on(picture, "cooling", 203.8, [bar] * 20)
    (deviation,) = picture.deviations()
    assert deviation.subject is Subject.PRESSURE
    assert deviation.worst == pytest.approx(worst, abs=0.1)
    assert deviation.until_s is None
    go_on(picture, "cooling", 203.8, [10.45] * 20)
    (deviation,) = picture.deviations()
    assert deviation.lasted_s(400.0) == pytest.approx(2.0, abs=0.3)


def test_one_spike_is_no_deviation():
    picture = picture_at(300.0)
    pressure = [10.45] * 20
    pressure[9] = 60.0
    go_on(picture, "cooling", 203.8, pressure)
    assert picture.deviations() == []


def test_a_changeover_past_its_limit_spoils_the_joint():
    picture = picture_at(197.0)
    go_on(picture, "changeover", 196.0, [0.0] * 60)
    assert picture.is_spoilt
    (deviation,) = picture.deviations()
    assert deviation.subject is Subject.TIME


def test_the_plate_is_watched_until_it_is_out():
    picture = picture_at(150.0)
    go_on(picture, "heat_soak", 136.0, [4.1] * 20, plate=236.0)
    (deviation,) = picture.deviations()
    assert (deviation.subject, deviation.worst) == (Subject.PLATE, 6.0)
