"""A whole joint that nobody announced is in the record all the same."""

import json

import pytest

from logger.domain.phase import Phase
from tests.system.processes import Recorder, beadwatch, simulated

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]


def test_a_joint_nobody_opened_is_stored_whole_without_a_name(folder):
    with simulated("clean", folder) as rig:
        recorder = Recorder(folder / "r", rig.bus("tcp"))
        rig.pause()
        with recorder.recording(joint_file=None):
            rig.resume()
            assert recorder.until_phase("bead_up").joint_uuid is None
            uuid = recorder.until(lambda state: state.joint_uuid is not None, "it is noticed").joint_uuid
            recorder.until_ended()
    record = recorder.joint()
    judgement = recorder.judgement()
    assert (record.header.uuid, record.number, record.header.plan_json) == (uuid, None, None)
    assert (judgement["joint"], judgement["plan"], judgement["verdict"]) == (None, None, "undecided")
    assert "no_plan" in judgement["reasons"]
    assert [phase["phase"] for phase in judgement["phases"]] == list(Phase)
    times = [sample.t_ms for sample in recorder.samples()]
    assert times == sorted(set(times))
    bead_up_s = judgement["phases"][0]["start_s"]
    before_bead_up = [t for t in times if t / 1000 < bead_up_s]
    assert times[0] == 0
    assert bead_up_s > 60
    assert len(before_bead_up) > 100, "the preparation is in the record too"

    again = beadwatch("rejudge", uuid, "--json", "--store", recorder.store)
    assert (again.returncode, again.stdout) == (11, record.judgement_text)
    listed = json.loads(beadwatch("joints", "list", "--json", "--store", recorder.store).stdout)
    assert (listed["joint"], listed["uuid"], listed["ended"]) == (None, uuid, "finished")
