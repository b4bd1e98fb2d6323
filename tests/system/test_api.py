"""The interface of a real recorder on a simulated rig: a whole joint, its viewers, a restart, a claim."""

import subprocess
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.system.processes import TIME_SCALES, Recorder, has_stalled, simulated, until
from tests.system.viewers import BY, DRAG, ENTRY, Api, Viewer, never_reading, resident_kib

pytestmark = [pytest.mark.system, pytest.mark.timeout(600)]

GROWTH_KIB = 40_000
"""Room for what a joint itself takes (samples, judging), far less than viewers with queues would."""
VISUAL = {
    "bead_width_least": "9 mm", "bead_width_greatest": "10 mm", "misalignment": "0.3 mm",
    "notch": "not_to_the_surface", "look": "even all round", "is_accepted": True, "by": "S. Brandt",
}  # fmt: skip


def prepare(api: Api) -> str:
    """Type the joint in, open it, go through the checklist, confirm the drag; return its id."""
    wrong = {**ENTRY, "joint": "", "pipe": {**ENTRY["pipe"], "material": "PE10", "sdr": "x"}}
    answer = api.post("/v1/plan", **wrong)
    assert {error["field"] for error in answer["errors"]} == {"pipe.material", "pipe.sdr"}
    assert answer["missing"] == ["joint"]
    assert api.refused("/v1/joint/start", entry=wrong)["fields"]
    answer = api.post("/v1/plan", **ENTRY)
    assert (answer["errors"], answer["missing"], answer["attempt"]["attempt"]) == ([], [], 1)
    uuid = str(api.post("/v1/joint/start", entry=ENTRY)["joint_uuid"])
    for check in api.get("/v1/checklist")["checks"]:
        value = {"mm": "0.2 mm", "bar": DRAG, "degC": "221 degC", "": ""}[check["unit"]]
        said = {"item": check["item"], "answer": "done", "value": value, "by": BY}
        if check["item"] == "shelter":
            said = {"item": check["item"], "answer": "skipped", "reason": "in a hall", "by": BY}
        api.post("/v1/joint/preparation", **said)
    checks = api.get("/v1/checklist")["checks"]
    assert all(check["said"] for check in checks)
    api.post("/v1/joint/drag", pressure=DRAG, by=BY)
    assert api.get("/v1/state")["drag_bar"] == pytest.approx(8)
    return uuid


def weld(api: Api, recorder: Recorder) -> None:
    """Do what an operator does while the joint is made."""
    recorder.until_phase("bead_up")
    api.post("/v1/joint/bead", by=BY)
    recorder.until(lambda state: state.phase in ("changeover", "pressure_build_up"), "the changeover")
    refused = api.refused("/v1/joint/mark", boundary="changeover", at_s=1, how="curve", by=BY)
    if api.get("/v1/state")["phase"] != "cooling":
        assert refused["error"] == "DeviceError"
    recorder.until_phase("cooling")
    api.post("/v1/joint/ambient", temperature="18 degC", instrument="T-4", by=BY)
    start_s = api.get("/v1/state")["phase_since_s"]
    api.post("/v1/joint/mark", boundary="cooling", at_s=start_s, how="curve", by=BY)


def close(api: Api, uuid: str) -> None:
    """Open the clamps, look at the joint, sign it off."""
    api.post("/v1/joint/clamps-opened", by=BY)
    api.post(f"/v1/joints/{uuid}/visual", **VISUAL)
    api.post(f"/v1/joints/{uuid}/remark", text="first of the day", by=BY)
    unmarked = api.refused(f"/v1/joints/{uuid}/sign-off", is_number_marked=False, by=BY)
    assert [field["field"] for field in unmarked["fields"]] == ["is_number_marked"]
    # Where the machine stalled the curve may be one that nobody may keep.
    is_bad = api.get(f"/v1/joints/{uuid}/judgement")["verdict"] == "nonconforming"
    closed = {"closed_as": "cut_out"} if is_bad else {}
    api.post(f"/v1/joints/{uuid}/sign-off", is_number_marked=True, by=BY, **closed)


def check_record(api: Api, uuid: str) -> dict[str, Any]:
    """What history says of the joint; return its judgement."""
    (summary,) = api.get("/v1/joints", project="Lower Weir", operator=BY)["joints"]
    assert (summary["uuid"], summary["number"], summary["ended"]) == (uuid, "A-1", "finished")
    assert summary["origin"] == "simulated"
    detail = api.get(f"/v1/joints/{uuid}")
    kinds = {said["kind"] for said in detail["statements"]}
    assert kinds == {
        "ambient", "preparation", "drag", "bead", "mark", "clamps_opened", "visual", "remark", "sign_off",
    }  # fmt: skip
    assert all(said["author"] and said["at_utc"] for said in detail["statements"])
    assert detail["plan"]["drag_pressure_bar"] == pytest.approx(8)
    raw = api.get(f"/v1/joints/{uuid}/curve")
    thin = api.get(f"/v1/joints/{uuid}/curve", points=400)
    assert raw["is_thinned"] is False
    assert thin["is_thinned"] is True
    assert set(thin["samples"]["t_s"]) <= set(raw["samples"]["t_s"])
    last = api.get("/v1/choices")["last"]
    assert last["pipe"]["outside_diameter"] == "63 mm"
    assert last["pipe"]["code"] == ""
    judgement = dict(api.get(f"/v1/joints/{uuid}/judgement"))
    assert judgement["verdict"] == summary["verdict"]
    return judgement


def whole_joint(folder: Path, time_scale: float) -> tuple[Recorder, dict[str, Any]]:
    with simulated("clean", folder, time_scale=time_scale) as rig:
        recorder = Recorder(folder / "r", rig.bus("tcp"), time_scale=time_scale)
        rig.pause()
        with recorder.recording(joint_file=None) as process, Api(recorder.socket) as api:
            with never_reading(recorder.socket), never_reading(recorder.socket):
                early = [Viewer(recorder.socket), Viewer(recorder.socket)]
                uuid = prepare(api)
                rig.resume()
                before_kib = resident_kib(process.pid)
                weld(api, recorder)
                late = Viewer(recorder.socket)
                recorder.until_ended()
                everybody = [*early, late]
                until(
                    lambda: all("joint.ended" in viewer.events for viewer in everybody), "all heard the end"
                )
                grown_kib = resident_kib(process.pid) - before_kib
            close(api, uuid)
            judgement = check_record(api, uuid)
    stored = recorder.samples()
    for viewer in everybody:
        check_viewer(viewer, uuid, len(stored))
    assert grown_kib < GROWTH_KIB
    assert "Traceback" not in recorder.log.read_text(encoding="utf-8")
    return recorder, judgement


def check_viewer(viewer: Viewer, uuid: str, count: int) -> None:
    """Every sample once, without a hole, up to where the joint ended between two messages."""
    assert viewer.schemas[:2] == ["beadwatch.hello/1", "beadwatch.snapshot/1"]
    numbers = viewer.numbers(uuid)
    assert numbers == list(range(1, len(numbers) + 1))
    assert (viewer.skipped, viewer.repeated) == (0, 0)
    assert count - len(numbers) < 100


def test_a_whole_joint_is_made_over_the_interface_while_two_viewers_never_read(folder):
    """The verdict is claimed only where the machine kept up; that has tests of its own."""
    for time_scale in TIME_SCALES[1:]:
        recorder, judgement = whole_joint(folder / f"x{time_scale:g}", time_scale)
        if not has_stalled(recorder.samples()):
            break
    if not has_stalled(recorder.samples()):
        assert (judgement["verdict"], judgement["reasons"]) == ("conforming", [])


def killed(process: "subprocess.Popen[str]") -> None:
    process.kill()
    process.wait()


def test_a_viewer_goes_on_after_a_restart_with_what_it_has_not_seen(folder):
    with simulated("clean", folder, time_scale=1.0) as rig:
        recorder = Recorder(folder / "r", rig.bus("tcp"), time_scale=1.0)
        with recorder.recording(joint_file=None) as process, Api(recorder.socket) as api:
            uuid = prepare(api)
            first = Viewer(recorder.socket)
            until(lambda: len(first.numbers(uuid)) > 20, "some samples")
            recorder.until(lambda _: recorder.stored_s() > 1, "some of it is stored")
            killed(process)
        until(first.ended, "the viewer hears of it")
        seen = first.numbers(uuid)
        with recorder.recording(joint_file=None), Api(recorder.socket) as api:
            assert api.get("/v1/state")["joint_uuid"] == uuid
            assert all(check["said"] for check in api.get("/v1/checklist")["checks"])
            stored = [sample.t_ms / 1000 for sample in recorder.samples()]
            second = Viewer(recorder.socket, joint=uuid, since=10)
            until(lambda: len(second.numbers(uuid)) > len(stored) + 5, "new samples")
            api.post("/v1/joint/abort", reason="seen enough")
    assert second.numbers(uuid)[0] == 11
    assert "joint.resumed" in second.events
    # What was committed before the kill has kept its numbers.
    both = [seq for seq in seen if seq in second.samples[uuid] and seq <= len(stored)]
    assert both
    assert all(first.samples[uuid][seq] == second.samples[uuid][seq] for seq in both)
    times = [second.samples[uuid][seq][0] for seq in second.numbers(uuid)]
    assert all(before < after for before, after in pairwise(times))


def test_a_joint_nobody_announced_is_claimed_over_the_interface(folder):
    time_scale = TIME_SCALES[0]
    with simulated("clean", folder, time_scale=time_scale) as rig:
        recorder = Recorder(folder / "r", rig.bus("tcp"), time_scale=time_scale)
        with recorder.recording(joint_file=None), Api(recorder.socket) as api:
            uuid = recorder.until_ended().last_joint_uuid
            assert api.get("/v1/joints")["joints"][0]["number"] is None
            claim = {"number": "A-9", "project": "Lower Weir", "claimed_by": BY, "reason": "late from lunch"}
            assert api.post("/v1/joint/claim", joint_uuid=uuid, **claim)["attempt"] == 1
            assert api.refused("/v1/joint/claim", joint_uuid=uuid, **claim | {"number": "A-10"})
            detail = api.get(f"/v1/joints/{uuid}")
    assert (detail["summary"]["number"], detail["claimed_by"]) == ("A-9", BY)
    assert detail["claim_reason"] == "late from lunch"
