"""What the operator is told: the rules that keep people unhurt and joints honest."""

from dataclasses import replace

import pytest

from logger.domain.band import Band
from logger.domain.phase import Phase
from tests.unit.tui.fake_link import plan
from tui.cues import cue_of
from tui.glance import ABORT, BEAD, CLAMPS, Alarm, Moment, Trust

SOAK_S = plan().step_of(Phase.HEAT_SOAK).duration_s.min
CHANGEOVER_S = plan().step_of(Phase.CHANGEOVER).duration_s.max
COOLING_S = plan().step_of(Phase.COOLING).duration_s.min


def cue(phase, gone_s=0.0, **changes):
    early_s = changes.pop("since_early_s", gone_s)
    moment = Moment(
        phase=phase, since_late_s=gone_s, since_early_s=early_s, plan=plan(), is_joint_open=True, **changes
    )
    return cue_of(moment)


def with_bead_up(seconds):
    steps = tuple(
        replace(step, duration_s=Band(min=seconds)) if step.phase is Phase.BEAD_UP else step
        for step in plan().steps
    )
    return replace(plan(), steps=steps)


@pytest.mark.parametrize("phase", list(Phase))
@pytest.mark.parametrize("trust", [Trust.OLD, Trust.UNSURE])
def test_without_trust_there_is_no_figure(phase, trust):
    shown = cue(phase, 3.0, trust=trust)
    assert (shown.figure, shown.caption) == ("", "")
    assert "gauge and your watch" in shown.action


@pytest.mark.parametrize("gone_s", [0.0, 5.0, 30.0, 600.0])
def test_nothing_prompts_the_let_down_before_the_bead_is_seen(gone_s):
    for planned in (plan(), with_bead_up(20.0)):
        moment = Moment(
            phase=Phase.BEAD_UP, since_late_s=gone_s, since_early_s=gone_s, plan=planned, is_joint_open=True
        )
        shown = cue_of(moment)
        assert "down" not in shown.action.lower()
        assert "open" not in shown.action.lower()
        assert shown.keys == (BEAD, ABORT)


def test_a_bead_up_time_ends_in_check_bead():
    moment = Moment(phase=Phase.BEAD_UP, since_late_s=19.2, since_early_s=21.0, plan=with_bead_up(20.0))
    assert cue_of(moment).figure == "1"
    over = cue_of(replace(moment, since_late_s=20.0))
    assert over.figure == ""
    assert over.caption == "check bead"
    assert over.action.startswith("CHECK THE BEAD")


def test_the_let_down_is_named_once_the_bead_is_confirmed():
    shown = cue(Phase.BEAD_UP, 12.0, is_bead_seen=True)
    assert "Let the pressure down to 8.1 bar or less" in shown.action
    assert BEAD not in shown.keys


def test_least_times_count_from_the_late_edge_and_are_never_rounded_down():
    assert cue(Phase.HEAT_SOAK, SOAK_S - 30.01, since_early_s=SOAK_S).figure == "31"
    assert cue(Phase.COOLING, COOLING_S - 0.2, since_early_s=COOLING_S + 5).figure == "1"


def test_greatest_times_count_from_the_early_edge():
    assert cue(Phase.CHANGEOVER, 0.0, since_early_s=2.9).figure == "2"
    assert "Limit passed" in cue(Phase.CHANGEOVER, 0.0, since_early_s=CHANGEOVER_S + 0.01).action


def test_hands_and_path_come_before_the_countdown():
    early = cue(Phase.HEAT_SOAK, SOAK_S - 25.0)
    clear = cue(Phase.HEAT_SOAK, SOAK_S - 15.0)
    count = cue(Phase.HEAT_SOAK, SOAK_S - 5.0)
    assert early.cautions == ()
    assert early.alarm is Alarm.NONE
    assert any("HANDS CLEAR" in text for text in clear.cautions)
    assert any("PATH" in text for text in clear.cautions)
    assert "open" not in clear.action.lower()
    assert "open, plate out, close" in count.action
    assert count.cautions == clear.cautions
    assert clear.alarm is count.alarm is Alarm.PREPARE


@pytest.mark.parametrize(
    "shown",
    [
        cue(Phase.HEAT_SOAK, SOAK_S),
        cue(Phase.HEAT_SOAK, SOAK_S + 100),
        cue(Phase.CHANGEOVER, 2.0),
        cue(Phase.CHANGEOVER, 99.0),
        cue(Phase.PRESSURE_BUILD_UP, 2.0),
        cue(Phase.PRESSURE_BUILD_UP, 99.0),
        cue(Phase.CHANGEOVER, 2.0, trust=Trust.OLD),
        cue(Phase.PRESSURE_BUILD_UP, 2.0, trust=Trust.UNSURE),
    ],
)
def test_from_the_end_of_the_soak_until_cooling_there_is_no_key_and_no_bell(shown):
    assert shown.is_quiet
    assert shown.keys == ()
    assert shown.alarm is Alarm.NONE


@pytest.mark.parametrize("phase", [Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP])
def test_past_the_limit_there_is_only_the_one_sentence(phase):
    shown = cue(phase, 99.0)
    text = "Limit passed. Keep clear, do not rush. The joint is to be cut out and made again."
    assert (shown.action, shown.figure, shown.caption, shown.cautions) == (text, "", "", ())


def test_a_limit_once_passed_is_not_forgotten():
    assert cue(Phase.PRESSURE_BUILD_UP, 1.0, is_spoilt=True).action.startswith("Limit passed")
    assert any("Limit passed" in text for text in cue(Phase.COOLING, 50.0, is_spoilt=True).cautions)
    assert cue(Phase.COOLING, COOLING_S + 1, is_spoilt=True).action.startswith("Limit passed")


def test_cooling_says_what_not_to_do_before():
    shown = cue(Phase.COOLING, 50.0)
    assert any(text.startswith("Do not lift before:") for text in shown.cautions)
    assert any(text.startswith("Do not pressure-test before:") for text in shown.cautions)
    assert any("No water" in text for text in shown.cautions)


def test_cooling_done_relieves_the_pressure_before_hands_go_near():
    shown = cue(Phase.COOLING, COOLING_S)
    assert shown.alarm is Alarm.DONE
    assert "Relieve the pressure before touching" in shown.cautions[0]
    assert CLAMPS in shown.keys


def test_a_joint_without_a_plan_has_time_gone_and_no_limit():
    moment = Moment(phase=Phase.CHANGEOVER, since_late_s=4.0, since_early_s=4.0)
    shown = cue_of(moment)
    assert shown.figure == "4"
    assert "no limits are known" in shown.action
    assert shown.is_quiet


def test_a_drag_that_is_not_known_gives_no_pressure():
    steps = tuple(replace(step, gauge_pressure_bar=Band()) for step in plan().steps)
    moment = Moment(phase=None, plan=replace(plan(), steps=steps), is_joint_open=True)
    assert "drag" in cue_of(moment).action
