"""What the live tracker must survive, on curves drawn by hand: look-alikes, broken-off and unusual joints."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from logger.config.rig_file import rig_of
from logger.daemon.watch import Watch
from logger.domain.phase import PHASES
from logger.session.state import Setting
from tests.drawn import DRAG_BAR
from tests.unit.daemon.bench import RIG_TEXT, raw_of
from tests.unit.judge.plans import JOINING, around, plan_of
from tests.unit.session.curves import PLANNED, UNNAMED, Curve, followed, standing

WHOLE = [*PHASES, "none"]
PREPARATIONS: dict[str, Callable[[Curve], Curve]] = {
    "drag, facing, alignment": lambda c: (
        c.press(8, 6).hold(20).press(14, 60).hold(20).press(28, 6).hold(20)
    ),
    "long facing, two strokes, hold": lambda c: (
        c.press(12, 120).hold(30).press(8, 5).hold(10).press(8, 5).hold(15).press(28, 20).hold(40)
    ),
    "faced twice": lambda c: (
        c.press(14, 90).hold(20).press(28, 8).hold(25).press(14, 40).hold(20).press(28, 8).hold(25)
        .press(8, 6).hold(30)
    ),
    "slip hold of a minute": lambda c: c.press(8, 6).hold(20).press(14, 60).hold(20).press(28, 60).hold(20),
}  # fmt: skip
BOTH = pytest.mark.parametrize("setting", [PLANNED, UNNAMED], ids=["planned", "unnamed"])


def start() -> Curve:
    return Curve().hold(5)


def planned(**changes) -> Setting:
    return replace(PLANNED, plan=plan_of(**changes))


def watched(curve: Curve) -> bool:
    """Whether a recorder without a joint takes this for one."""
    watch = Watch(replace(UNNAMED, rig=rig_of(RIG_TEXT).rig))
    return any(watch.look(raw_of(sample, sample.t_s)) for sample in curve.samples())


@pytest.mark.parametrize("name", PREPARATIONS)
@BOTH
def test_a_joint_after_any_preparation_is_followed_to_its_end(setting, name):
    curve = PREPARATIONS[name](start()).joint().hold(190)
    bead_up_s = curve.corners[-1][0] - 190 - 0.8 - 300 - 5 - 4 - 120 - 0.8 - 25 - 1
    session, changes = followed(setting, curve.samples())
    assert session.is_over
    assert standing(changes)[-6:] == WHOLE
    last = [c for c in changes if c.after == "bead_up" or c.cause == "too_short"][-1]
    assert last.after in ("bead_up", "heat_soak")
    assert session.starts[PHASES[0]].at_s == pytest.approx(bead_up_s, abs=0.5)
    assert session.starts[PHASES[4]].at_s == pytest.approx(curve.t_s - 190 - 0.8 - 300, abs=0.7)


@pytest.mark.parametrize("name", PREPARATIONS)
def test_a_preparation_alone_is_no_joint_without_a_name(name):
    assert not watched(PREPARATIONS[name](start()).hold(200))


@pytest.mark.parametrize("name", PREPARATIONS)
def test_a_joint_that_nobody_opened_is_noticed_after_any_preparation(name):
    assert watched(PREPARATIONS[name](start()).joint().hold(20))


@pytest.mark.parametrize(("bead_up", "joining"), [(28, 18), (18, 28), (36, 20)])
def test_bead_up_and_joining_at_planned_pressures_of_their_own(bead_up, joining):
    setting = planned(bead_up=around(bead_up, 1.5), cooling=((around(joining, 1.5), 280.0),))
    session, changes = followed(
        setting, start().joint(bead_up_bar=bead_up, joining_bar=joining).hold(40).samples()
    )
    assert session.is_over
    assert [change.after or "none" for change in changes] == WHOLE


@pytest.mark.parametrize(("bead_up", "joining"), [(28, 18), (36, 20), (28, 32), (18, 28)])
def test_different_pressures_without_a_plan(bead_up, joining):
    session, changes = followed(
        UNNAMED, start().joint(bead_up_bar=bead_up, joining_bar=joining).hold(190).samples()
    )
    assert session.is_over
    assert [change.after or "none" for change in changes] == WHOLE


@pytest.mark.parametrize("pause_s", [15, 60, 200])
@BOTH
def test_a_bead_up_broken_off_and_started_again(setting, pause_s):
    curve = start().line(0.2, DRAG_BAR).hold(2).line(1, 28).hold(10).line(0.8, 0).hold(pause_s)
    session, changes = followed(setting, curve.joint().hold(190).samples())
    assert session.is_over
    assert standing(changes)[-6:] == WHOLE


@BOTH
def test_the_let_down_to_a_second_stage_is_no_release(setting):
    if setting.plan is not None:
        setting = planned(cooling=((JOINING, 50.0), (around(10.0, 1.0), 200.0)))
    curve = start().joint(cooling=lambda c: c.hold(60).line(2, 10).hold(240)).hold(190)
    session, changes = followed(setting, curve.samples())
    assert session.is_over
    assert [change.after or "none" for change in changes] == WHOLE
    assert changes[-1].at_s == pytest.approx(curve.t_s - 190, abs=1.5)


@BOTH
def test_leak_down_with_top_ups_is_one_cooling(setting):
    def leaking(curve: Curve) -> None:
        for _ in range(6):
            curve.line(45, 22).line(0.4, 29.5).line(1, 28)
        curve.hold(30)

    session, changes = followed(setting, start().joint(cooling=leaking).hold(190).samples())
    assert session.is_over
    assert [change.after or "none" for change in changes] == WHOLE


@pytest.mark.parametrize("stopped_s", [5, 25, 100])
def test_a_pack_stopped_while_cooling_does_not_end_the_joint(stopped_s):
    def stopped(curve: Curve) -> None:
        curve.hold(80).line(1, 0).hold(stopped_s).line(0.5, 28).hold(220 - stopped_s)

    curve = start().joint(cooling=stopped).hold(190)
    session, changes = followed(PLANNED, curve.samples())
    assert session.is_over
    assert [c.after or "none" for c in changes] == [*PHASES, "none", "cooling", "none"]
    assert (changes[-2].cause, changes[-2].withdrawn) == ("back_in_cooling", True)
    cooling_s = curve.t_s - 190 - 0.8 - 300 - 1.5
    assert session.starts[PHASES[4]].at_s == pytest.approx(cooling_s, abs=0.7), "counted from where it began"


def test_a_carriage_opened_after_an_early_release_ends_the_joint_soon():
    curve = start()
    curve.openings[-1] = (5.0, 0.0)
    curve.joint(cooling=lambda c: c.hold(100)).line(3, 0, 60.0).hold(200)
    session, _ = followed(PLANNED, curve.samples())
    last_s = session.samples.rows()[-1].t_s
    assert session.is_over
    assert last_s < curve.t_s - 200 + 40


@BOTH
def test_two_joints_one_after_the_other_in_one_trace(setting):
    pause_s = 25 if setting.plan else 150
    session, changes = followed(setting, start().joint().hold(pause_s).joint().hold(190).samples())
    assert session.is_over
    assert standing(changes) == [*WHOLE, *WHOLE]


def test_a_named_joint_ends_before_a_second_one_begins():
    session, changes = followed(PLANNED, start().joint().hold(150).joint().hold(190).samples())
    assert session.is_over
    assert standing(changes) == WHOLE


@pytest.mark.parametrize("gap_s", [3.0, 40.0, 250.0])
def test_a_gap_or_a_clock_step_inside_cooling_loses_nothing(gap_s):
    curve = start().joint()
    begin_s = curve.t_s - 0.8 - 290
    samples = [s for s in curve.hold(60).samples() if not begin_s < s.t_s < begin_s + gap_s]
    session, changes = followed(PLANNED, samples)
    assert session.is_over
    assert [change.after or "none" for change in changes] == WHOLE


def test_drag_strokes_with_a_carriage_are_no_bead_up():
    curve = start().stroke().hold(8).line(4, 0, 200.0).stroke(bar=9).hold(8).joint().hold(60)
    _, changes = followed(PLANNED, curve.samples())
    assert [change.after or "none" for change in changes][:2] == ["bead_up", "heat_soak"]
    assert changes[0].at_s > 30
