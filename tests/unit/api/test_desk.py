"""What people do and say at a recorder: kept as statements, refused at the field; no verdict is changed."""

from dataclasses import replace

import pytest

from logger.api.faults import FieldsError
from logger.daemon.joint_files import setting_of
from logger.daemon.sayings import QUIET, is_quiet
from logger.domain.checklist import CHECKLIST
from logger.domain.joint_query import JointQuery
from logger.domain.judgement import Verdict
from logger.domain.phase import Phase
from logger.domain.seal import ChainHead
from logger.errors import DeviceError, InputError, ProcedureRefusal, StoreError
from logger.store.sealed import verify_sealed
from logger.wire.desk import (
    AmbientCommand,
    BeadCommand,
    ClampsOpenedCommand,
    DragCommand,
    MarkCommand,
    OpenCommand,
    PlateReadingCommand,
    PreparationCommand,
    RemarkCommand,
    SignOffCommand,
    StartCommand,
    VisualCommand,
)
from logger.wire.entry import JointEntry
from tests.system.processes import JOINT_FILE
from tests.unit.api.recorder_bench import ENTRY, recorder_bench
from tests.unit.wire.messages import STATE

BY = "R. Okafor"
VISUAL = VisualCommand(
    bead_width_least="9 mm", bead_width_greatest="10.5 mm", misalignment="0.4 mm",
    notch="not_to_the_surface", look="even all round", is_accepted=True, by="S. Brandt",
)  # fmt: skip
MARK = MarkCommand(boundary="cooling", at_s=0.0, how="curve", by=BY)
SIGN_OFF = SignOffCommand(is_number_marked=True, by=BY)


@pytest.fixture
async def bench(tmp_path):
    async with recorder_bench(tmp_path) as bench:
        yield bench


async def said(bench, uuid, kind):
    return [one for one in await bench.archive.statements(uuid) if one.kind == kind]


async def test_a_joint_opened_from_typed_fields_is_kept_as_a_joint_file(bench):
    uuid = await bench.open()
    record = await bench.archive.record(uuid)
    assert (record.number, record.header.operator, record.project) == ("A-1", BY, "Lower Weir")
    assert 'outside_diameter = "63 mm"' in record.header.joint_toml
    (ambient,) = await said(bench, uuid, "ambient")
    assert (ambient.author, ambient.body["instrument"]) == (BY, "T-4")


async def test_what_is_missing_or_wrong_is_told_and_no_joint_is_opened(bench):
    entry = JointEntry(procedure="none")
    with pytest.raises(FieldsError) as refused:
        await bench.desk.start(OpenCommand(entry=entry))
    fields = {error.field for error in refused.value.fields}
    assert {"procedure", "joint", "operator", "pipe.material"} <= fields
    assert bench.recorder.open_record is None


async def test_a_refusal_is_a_refusal(bench):
    with pytest.raises(ProcedureRefusal):
        await bench.open(pipe=ENTRY.pipe.model_copy(update={"material": "PVDF"}))


async def test_a_joint_file_opens_a_joint_too(bench):
    text = JOINT_FILE.read_text(encoding="utf-8")
    assert (await bench.desk.start(StartCommand(joint_toml=text))).attempt == 1
    with pytest.raises(DeviceError, match="still open"):
        await bench.open()


async def test_a_repeated_number_is_announced_as_attempt_two_linked_to_the_first(bench):
    first = await bench.open()
    await bench.end()
    answer = await bench.desk.plan_answer(ENTRY)
    assert (answer.attempt.attempt, answer.attempt.previous_uuid) == (2, first)
    assert answer.attempt.previous_verdict == "undecided"
    elsewhere = await bench.desk.plan_answer(ENTRY.model_copy(update={"project": "Upper Weir"}))
    assert (elsewhere.attempt.attempt, elsewhere.attempt.previous_uuid) == (1, None)
    second = await bench.open()
    assert (await bench.archive.joint(second)).summary.previous_uuid == first


async def test_the_next_joint_is_offered_pipe_and_procedure_and_nothing_that_was_measured(bench):
    await bench.open()
    await bench.end()
    last = (await bench.desk.choices()).last
    assert (last.project, last.operator, last.procedure) == ("Lower Weir", BY, "dvs-2207-1:2015")
    assert (last.pipe.material, last.pipe.outside_diameter, last.pipe.sdr) == ("PE100", "63 mm", "11")
    offered = last.model_dump_json()
    for measured in ("LOT 7", "0.2 mm", "8 bar", "20 degC"):
        assert measured not in offered


async def test_choices_name_all_procedures_with_their_marks(bench):
    choices = await bench.desk.choices()
    assert len(choices.procedures) >= 12
    assert all(procedure.marks for procedure in choices.procedures)
    assert choices.last is None
    metric = next(size for size in choices.sizes if size.key == "outside_diameter")
    assert "63 mm" in metric.sizes
    assert 11.0 in metric.sdrs


async def test_the_checklist_stands_in_the_order_of_the_work_with_limits_and_cautions(bench):
    bare = await bench.desk.checklist()
    assert bare.joint_uuid is None
    assert all(check.limit is None for check in bare.checks)
    uuid = await bench.open()
    found = await bench.desk.checklist()
    assert found.joint_uuid == uuid
    order = [check.code for check in CHECKLIST]
    assert [check.item for check in found.checks] == [
        c for c in order if c not in ("skin_removed", "chip_thickness")
    ]
    by_item = {check.item: check for check in found.checks}
    assert by_item["end_beyond_clamp"].limit.min == 20
    assert "20.0 mm" in by_item["end_beyond_clamp"].text
    assert by_item["gap"].source
    assert by_item["gap"].limit.max == 0.5
    assert (by_item["heater_checked"].limit.min, by_item["heater_checked"].limit.max) == (210, 230)
    plan = bench.view.plan()
    assert by_item["slip_hold"].limit.target == max(
        step.gauge_pressure_bar.target for step in plan.steps if step.gauge_pressure_bar.target
    )
    assert "caution.hot_plate" in by_item["heater_checked"].cautions
    assert all("{" not in check.text for check in found.checks)


async def test_an_item_is_done_or_skipped_and_the_last_word_governs(bench):
    uuid = await bench.open()
    gap = PreparationCommand(item="gap", answer="done", value="0.3 mm", instrument="feeler F-2", by=BY)
    await bench.desk.preparation(gap)
    await bench.desk.preparation(
        PreparationCommand(item="shelter", answer="skipped", reason="no wind", by=BY)
    )
    await bench.desk.preparation(gap.model_copy(update={"value": "0.2 mm"}))
    by_item = {check.item: check.said for check in (await bench.desk.checklist()).checks}
    assert by_item["gap"].body == {
        "item": "gap", "answer": "done", "value": 0.2, "unit": "mm", "instrument": "feeler F-2",
    }  # fmt: skip
    assert (by_item["shelter"].body["answer"], by_item["shelter"].reason) == ("skipped", "no wind")
    assert by_item["ends_clean"] is None
    assert len(await said(bench, uuid, "preparation")) == 3


@pytest.mark.parametrize(
    ("command", "field"),
    [
        (PreparationCommand(item="gap", answer="done", value="0.3", by=BY), "value"),
        (PreparationCommand(item="gap", answer="done", value="3 degC", by=BY), "value"),
        (PreparationCommand(item="shelter", answer="done", value="3 mm", by=BY), "value"),
        (PreparationCommand(item="shelter", answer="skipped", by=BY), "reason"),
    ],
)
async def test_a_wrong_value_is_told_at_its_field_and_nothing_is_stored(bench, command, field):
    uuid = await bench.open()
    with pytest.raises(FieldsError) as refused:
        await bench.desk.preparation(command)
    assert [error.field for error in refused.value.fields] == [field]
    assert await said(bench, uuid, "preparation") == []


def commands(desk):
    """Every command about the open joint."""
    return [
        desk.preparation(PreparationCommand(item="gap", answer="done", by=BY)),
        desk.ambient(AmbientCommand(temperature="20 degC", instrument="T-4", by=BY)),
        desk.plate_reading(PlateReadingCommand(temperature="220 degC", instrument="T-9", face="both", by=BY)),
        desk.mark(MARK),
        desk.drag(DragCommand(pressure="9 bar", by=BY)),
    ]


@pytest.mark.parametrize("phase", QUIET)
async def test_between_the_soak_and_cooling_nothing_is_taken(bench, phase):
    uuid = await bench.open()
    before = await bench.archive.statements(uuid)
    bench.enter(phase)
    for command in [*commands(bench.desk), bench.desk.bead(BeadCommand(by=BY))]:
        with pytest.raises(DeviceError):
            await command
    assert await bench.archive.statements(uuid) == before
    bench.enter(Phase.COOLING)
    await bench.desk.mark(MARK)


@pytest.mark.parametrize(("remaining_s", "quiet"), [(10.0, False), (0.0, True), (-3.0, True), (None, False)])
def test_the_quiet_stretch_begins_when_the_soak_is_done(remaining_s, quiet):
    limit = STATE.limits[0].model_copy(update={"remaining_s": remaining_s})
    assert is_quiet(STATE.model_copy(update={"phase": "heat_soak", "limits": (limit,)})) is quiet
    assert not is_quiet(STATE.model_copy(update={"phase": "cooling", "limits": (limit,)}))


async def test_without_a_joint_nothing_is_taken(bench):
    for command in [*commands(bench.desk), bench.desk.bead(BeadCommand(by=BY))]:
        with pytest.raises(DeviceError):
            await command
    with pytest.raises(DeviceError):
        await bench.desk.clamps_opened(ClampsOpenedCommand(by=BY))


async def test_a_confirmed_drag_governs_the_plan_that_viewers_see(bench):
    await bench.open(drag_pressure="")
    assert bench.view.plan().steps[0].gauge_pressure_bar.target is None
    await bench.desk.drag(DragCommand(pressure="100 psi", by=BY))
    plan = bench.view.plan()
    assert plan.drag_pressure_bar == pytest.approx(6.894757, abs=1e-5)
    assert plan.steps[0].gauge_pressure_bar.target is not None
    assert bench.view.state(0).drag_bar == plan.drag_pressure_bar


async def test_ambient_taken_again_makes_the_longer_cooling_govern(bench):
    uuid = await bench.open()
    before = bench.view.plan()
    bench.enter(Phase.COOLING)
    cooler = await bench.desk.ambient(AmbientCommand(temperature="10 degC", instrument="T-4", by=BY))
    assert cooler.governing_cooling_s == cooler.planned_cooling_s
    assert bench.view.plan() is before
    hotter = await bench.desk.ambient(AmbientCommand(temperature="30 degC", instrument="T-4", by=BY))
    assert hotter.governing_cooling_s == hotter.read_cooling_s > hotter.planned_cooling_s
    after = bench.view.plan()
    assert after.steps[-1].duration_s.min == hotter.read_cooling_s
    assert after.steps[:-1] == before.steps[:-1]
    assert after.remarks[-1].code == "remark.cooling_by_ambient"
    detail = await bench.archive.joint(uuid)
    assert detail.plan.steps[-1].duration_s.min == hotter.read_cooling_s
    assert all("plan_json" not in one.body for one in detail.statements)


async def test_an_ambient_that_the_procedure_does_not_cover_is_refused_and_not_stored(bench):
    uuid = await bench.open()
    before = await bench.archive.statements(uuid)
    with pytest.raises(ProcedureRefusal):
        await bench.desk.ambient(AmbientCommand(temperature="70 degC", instrument="T-4", by=BY))
    assert await bench.archive.statements(uuid) == before


async def test_a_plate_reading_carries_when_it_was_taken(bench):
    uuid = await bench.open()
    bench.poll(60.0)
    await bench.desk.plate_reading(
        PlateReadingCommand(temperature="430 degF", instrument="T-9", face="fixed", taken_s_ago=20, by=BY)
    )
    (reading,) = await said(bench, uuid, "plate_reading")
    assert reading.body["temperature_degC"] == pytest.approx(221.111, abs=1e-3)
    assert reading.body["taken_at_s"] == pytest.approx(reading.at_s - 20, abs=0.01)


async def test_a_plate_reading_with_its_uncertainty_governs_and_is_judged_again_alike(bench):
    uuid = await bench.open()
    bench.poll(60.0)
    without = PlateReadingCommand(temperature="219 degC", instrument="T-9", face="both", by=BY)
    with pytest.raises(FieldsError, match="more than nothing"):
        await bench.desk.plate_reading(without.model_copy(update={"uncertainty": "0 degC"}))
    await bench.desk.plate_reading(without)
    await bench.desk.plate_reading(without.model_copy(update={"uncertainty": "2.7 degF"}))
    (reading,) = bench.recorder.open_record.session.setting.plate_known.hand_readings
    assert (reading.temperature_degC, reading.u_degC) == (219.0, 1.5)
    await bench.end()
    stored = setting_of(await bench.archive.record(uuid), await bench.archive.statements(uuid))
    assert stored.plate_known.hand_readings == (reading,)


async def test_a_mark_stands_beside_the_curve_and_changes_no_verdict(bench):
    uuid = await bench.open()
    bench.poll(10.0)
    with pytest.raises(FieldsError, match="ahead of now"):
        await bench.desk.mark(MARK.model_copy(update={"at_s": 1e6}))
    with pytest.raises(FieldsError, match="ahead of now"):
        await bench.desk.mark(MARK.model_copy(update={"at_s": 1e6, "joint_uuid": uuid}))
    await bench.desk.mark(MARK.model_copy(update={"at_s": 5.0, "how": "stop_watch", "joint_uuid": uuid}))
    (mark,) = await said(bench, uuid, "mark")
    assert mark.body == {"boundary": "cooling", "at_s": 5.0, "u_s": 0.3, "how": "stop_watch"}
    await bench.end()
    judged = await bench.archive.judgement(uuid)
    assert (await bench.archive.record(uuid)).verdict is Verdict.UNDECIDED
    await bench.desk.mark(MARK.model_copy(update={"joint_uuid": uuid, "at_s": 6.0}))
    assert await bench.archive.judgement(uuid) == judged
    assert len(await said(bench, uuid, "mark")) == 2


async def test_after_the_joint_it_is_looked_at_and_signed_off_once(bench):
    uuid = await bench.open()
    for command in (bench.desk.visual(uuid, VISUAL), bench.desk.sign_off(uuid, SIGN_OFF)):
        with pytest.raises(DeviceError, match="still open"):
            await command
    await bench.desk.remark(uuid, RemarkCommand(text="rain began", by=BY))
    await bench.end()
    await bench.desk.clamps_opened(ClampsOpenedCommand(by=BY))
    await bench.desk.visual(uuid, VISUAL)
    await bench.desk.remark(uuid, RemarkCommand(text="rain stopped", by=BY))
    await bench.desk.sign_off(uuid, SIGN_OFF)
    with pytest.raises(DeviceError, match="signed off already"):
        await bench.desk.sign_off(uuid, SIGN_OFF)
    kinds = [one.kind for one in (await bench.archive.joint(uuid)).statements]
    assert kinds == ["ambient", "remark", "clamps_opened", "visual", "remark", "sign_off"]
    (visual,) = await said(bench, uuid, "visual")
    assert (visual.author, visual.body["bead_width_greatest_mm"]) == ("S. Brandt", 10.5)


async def test_a_width_that_cannot_be_is_told(bench):
    uuid = await bench.open()
    await bench.end()
    with pytest.raises(FieldsError, match="less than the least"):
        await bench.desk.visual(uuid, VISUAL.model_copy(update={"bead_width_greatest": "8 mm"}))


async def test_the_number_has_to_stand_on_the_pipe(bench):
    uuid = await bench.open()
    await bench.end()
    with pytest.raises(FieldsError, match="is_number_marked"):
        await bench.desk.sign_off(uuid, SIGN_OFF.model_copy(update={"is_number_marked": False}))


async def test_a_nonconforming_joint_closes_only_as_cut_out_or_by_a_named_concession(bench, monkeypatch):
    uuid = await bench.open()
    await bench.end()
    record = replace(await bench.archive.record(uuid), verdict=Verdict.NONCONFORMING)

    async def found(_):
        return record

    monkeypatch.setattr(bench.archive, "record", found)
    with pytest.raises(FieldsError) as refused:
        await bench.desk.sign_off(uuid, SIGN_OFF)
    assert refused.value.fields[0].nearest == ("cut_out", "concession")
    with pytest.raises(FieldsError, match="names the person"):
        await bench.desk.sign_off(uuid, SIGN_OFF.model_copy(update={"closed_as": "concession"}))
    await bench.desk.sign_off(
        uuid, SIGN_OFF.model_copy(update={"closed_as": "concession", "concession_by": "L. Vogt"})
    )
    (closed,) = await said(bench, uuid, "sign_off")
    assert closed.body["concession_by"] == "L. Vogt"
    assert closed.body["verdict_of_curve"] == "nonconforming"


async def test_a_joint_that_is_not_there_is_told(bench):
    with pytest.raises(InputError, match="is not in the record"):
        await bench.desk.visual("no-such-joint", VISUAL)
    await bench.open()
    with pytest.raises(InputError, match="is a number, not the id"):
        await bench.archive.joint("A-1")


async def test_history_is_listed_by_page_and_filter(bench):
    """A joint's id is searched too: K is no hexadecimal digit, so none has one of these numbers by chance."""
    for number in ("K-1", "K-2", "L-3"):
        await bench.open(joint=number)
        await bench.end()
    page = await bench.archive.joints(JointQuery(limit=2))
    assert ([joint.number for joint in page.joints], page.is_more) == (["L-3", "K-2"], True)
    rest = await bench.archive.joints(JointQuery(limit=2, offset=2))
    assert ([joint.number for joint in rest.joints], rest.is_more) == (["K-1"], False)
    found = await bench.archive.joints(JointQuery(text="k-2"))
    assert [joint.number for joint in found.joints] == ["K-2"]
    assert (await bench.archive.joints(JointQuery(operator="Nobody"))).joints == ()


async def test_a_curve_comes_raw_or_thinned_without_losing_a_spike(bench):
    uuid = await bench.open()
    for k in range(400):
        bench.poll(1.0 + k / 10, 6400 if k != 333 else 25000)
    await bench.end()
    raw = await bench.archive.curve(uuid, None)
    assert (raw.is_thinned, raw.sample_count, len(raw.samples.t_s)) == (False, 400, 400)
    thin = await bench.archive.curve(uuid, 40)
    assert thin.is_thinned
    assert len(thin.samples.t_s) <= 42
    assert set(thin.samples.t_s) <= set(raw.samples.t_s)
    assert list(thin.samples.t_s) == sorted(thin.samples.t_s)
    assert max(thin.samples.pressure_bar) == max(raw.samples.pressure_bar)


async def test_viewers_get_the_samples_of_the_open_joint_by_number(bench):
    assert bench.view.samples(0, 10) is None
    uuid = await bench.open()
    for k in range(5):
        bench.poll(1.0 + k)
    assert bench.view.sample_count() == 5
    found = bench.view.samples(3, 10)
    assert (found.joint_uuid, found.first_seq) == (uuid, 4)
    assert found.t_s == (4.0, 5.0)


async def test_an_office_can_pull_a_sealed_joint_and_the_head(bench):
    uuid = await bench.open()
    with pytest.raises(StoreError, match="still open"):
        await bench.archive.sealed(uuid)
    await bench.end()
    head = await bench.archive.head()
    text = await bench.archive.sealed(uuid)
    assert verify_sealed(text, heads=[ChainHead.read(head.head)]).is_good
    with pytest.raises(InputError, match="is not in the record"):
        await bench.archive.sealed("nowhere")
