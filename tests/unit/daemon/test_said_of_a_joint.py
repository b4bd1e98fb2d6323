"""Drag and bead as a person confirms them: kept first, then followed, and the same when judged again."""

import pytest

from logger.daemon.joint_files import setting_of
from logger.daemon.recovery import Found
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.domain.scale import sample_of
from logger.errors import DeviceError, StoreError
from logger.session.advance import judged
from logger.store.reader import Reader
from logger.wire.judgement import to_json
from tests.drawn import DRAG_BAR, Drawn, draw_joint
from tests.unit.daemon.bench import Bench, joint_text

DRAWN = draw_joint(cooling_s=80.0, soak_s=60.0)
END_S = DRAWN.corners[-1][0] + 40.0
SAMPLES = Drawn((*DRAWN.corners[:-1], (END_S, 0.0)), DRAWN.truth).samples()
BEAD_UP_S = DRAWN.truth["bead_up"][0]
SOAK_S = DRAWN.truth["heat_soak"][0]


@pytest.fixture
def bench(tmp_path):
    bench = Bench(tmp_path)
    yield bench
    bench.disk.is_bad = False
    bench.writer.close()


def between(from_s: float, to_s: float):
    return (sample for sample in SAMPLES if from_s <= sample.t_s < to_s)


def plan(bench: Bench) -> JointPlan:
    record = bench.recorder.open_record
    assert record is not None
    assert record.session.setting.plan is not None
    return record.session.setting.plan


def codes(bench: Bench) -> list[str]:
    return [event.code for event in bench.recorder.state().events]


async def test_the_plan_follows_the_confirmed_drag_and_judging_again_gives_the_same_bytes(bench):
    accepted = await bench.recorder.start_joint(joint_text())
    assert not plan(bench).step_of(Phase.COOLING).gauge_pressure_bar.is_given
    await bench.take(between(0.0, 30.0))
    offer = bench.recorder.state().drag_offer
    assert offer is not None
    assert offer.pressure_bar == pytest.approx(DRAG_BAR, abs=0.1)
    assert not offer.is_closing_seen
    await bench.recorder.confirm_drag(8.2, "R. Amsel")
    assert bench.recorder.state().drag_bar == 8.2
    joining = plan(bench).step_of(Phase.COOLING).gauge_pressure_bar
    interface = plan(bench).step_of(Phase.COOLING).interface_pressure_MPa
    area = plan(bench).pipe_area_mm2 / 1414
    assert joining.target == pytest.approx(interface.target * 10 * area + 8.2)
    await bench.take(between(30.0, END_S))
    await bench.recorder.abort_joint("the test is over")
    with Reader(bench.store) as reader:
        record = reader.joint(accepted.joint_uuid)
        statements = reader.statements_of(accepted.joint_uuid)
        setting = setting_of(record, statements)
        samples = [sample_of(raw, setting.rig) for raw in reader.samples(accepted.joint_uuid)]
        events = {event.code: event for event in reader.events(accepted.joint_uuid)}
    assert record.judgement_text is not None
    assert to_json(judged(setting, samples)) == record.judgement_text
    assert to_json(judged(setting_of(record), samples)) != record.judgement_text
    (said,) = statements
    assert (said.kind, said.author, said.body["pressure_bar"]) == ("drag", "R. Amsel", 8.2)
    assert events["drag.confirmed"].parameters["offered_bar"] == pytest.approx(DRAG_BAR, abs=0.1)
    assert "drag.withdrawn" in events


async def test_a_drag_that_could_not_be_stored_changes_nothing(bench):
    await bench.recorder.start_joint(joint_text(drag='drag_pressure = "7 bar"'))
    bench.disk.is_bad = True
    with pytest.raises(StoreError):
        await bench.recorder.confirm_drag(9.0, "R. Amsel")
    assert plan(bench).drag_pressure_bar == 7.0
    assert "drag.confirmed" not in codes(bench)


async def test_no_drag_is_taken_without_a_joint_or_once_the_bead_up_is_over(bench):
    with pytest.raises(DeviceError, match="no joint is open"):
        await bench.recorder.confirm_drag(9.0, "R. Amsel")
    await bench.recorder.start_joint(joint_text(drag='drag_pressure = "8 bar"'))
    await bench.take(between(0.0, DRAWN.truth["cooling"][0] + 5.0))
    assert bench.recorder.state().phase == "cooling"
    with pytest.raises(DeviceError, match="plate has been left"):
        await bench.recorder.confirm_drag(9.0, "R. Amsel")
    assert plan(bench).drag_pressure_bar == 8.0


async def test_the_bead_is_confirmed_once_while_it_can_be_seen(bench):
    await bench.recorder.start_joint(joint_text(drag='drag_pressure = "8 bar"'))
    with pytest.raises(DeviceError, match="no bead-up"):
        await bench.recorder.confirm_bead("R. Amsel")
    await bench.take(between(0.0, BEAD_UP_S + 20.0))
    await bench.recorder.confirm_bead("R. Amsel")
    with pytest.raises(DeviceError, match="already"):
        await bench.recorder.confirm_bead("E. Koster")
    state = bench.recorder.state()
    assert state.bead_by == "R. Amsel"
    assert state.bead_at_s == pytest.approx(BEAD_UP_S + 20.0, abs=0.2)
    await bench.take(between(BEAD_UP_S + 20.0, END_S))
    await bench.recorder.abort_joint("the test is over")
    assert "bead.not_confirmed" not in codes(bench)


async def test_a_bead_that_nobody_confirmed_is_noted_at_the_end(bench):
    await bench.recorder.start_joint(joint_text(drag='drag_pressure = "8 bar"'))
    await bench.take(between(0.0, DRAWN.truth["cooling"][0] + 20.0))
    await bench.recorder.abort_joint("the test is over")
    assert codes(bench).count("bead.not_confirmed") == 1


async def test_a_recorder_that_was_away_keeps_what_was_said(bench):
    accepted = await bench.recorder.start_joint(joint_text())
    await bench.take(between(0.0, 30.0))
    await bench.recorder.confirm_drag(8.0, "R. Amsel")
    await bench.take(between(30.0, BEAD_UP_S + 20.0))
    await bench.recorder.confirm_bead("R. Amsel")
    before = bench.recorder.state()
    bench.writer.flush()
    with Reader(bench.store) as reader:
        (joint,) = reader.open_joints()
        cut = Found(joint, reader.samples(accepted.joint_uuid), reader.statements_of(accepted.joint_uuid))
    bench.recorder = bench.new_recorder()
    await bench.recorder.resume(cut)
    after = bench.recorder.state()
    assert (after.drag_bar, after.bead_by, after.phase) == (before.drag_bar, before.bead_by, before.phase)
    assert after.phase_since_s == before.phase_since_s
    await bench.recorder.confirm_drag(8.4, "R. Amsel")
    assert plan(bench).drag_pressure_bar == 8.4


async def test_what_is_old_or_unsure_has_no_figure(bench):
    await bench.recorder.start_joint(joint_text(drag='drag_pressure = "8 bar"'))
    await bench.take(between(0.0, SOAK_S + 20.0))
    state = bench.recorder.state()
    (limit,) = state.limits
    assert not limit.is_max
    assert limit.from_s == state.phase_late_s
    assert limit.remaining_s == pytest.approx(limit.limit_s - (state.now_s - limit.from_s))
    bench.clock.now_s += 3.0
    old = bench.recorder.state()
    assert old.unsure == "old_data"
    assert [limit.remaining_s for limit in old.limits] == [None]
    assert old.now_s == pytest.approx(state.now_s + 3.0)
