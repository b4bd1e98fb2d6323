"""Commands against a running recorder: what they print, what they refuse, and with which exit code."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.system.processes import JOINT, JOINT_FILE, Recorder, beadwatch, simulated

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]


@pytest.fixture
def recorder(folder: Path) -> Iterator[Recorder]:
    """A recorder on a standing rig, no joint open."""
    with simulated("clean", folder, time_scale=1.0) as rig:
        one = Recorder(folder / "one", rig.bus("tcp"), time_scale=1.0)
        with one.recording(joint_file=None):
            yield one


def refused(code: int, *arguments: object) -> str:
    """The one line on stderr with which a command is refused."""
    done = beadwatch(*arguments)
    told = done.stderr.splitlines()
    assert (done.returncode, done.stdout, len(told)) == (code, "", 1), done.stderr
    assert told[0].startswith("beadwatch: ")
    return told[0]


def out_of_scope(folder: Path) -> Path:
    """A joint that its procedure does not cover."""
    path = folder / "pvdf.toml"
    path.write_text(JOINT_FILE.read_text().replace('"PE100"', '"PVDF"'))
    return path


def test_a_second_recorder_is_refused_and_the_first_goes_on(recorder, folder):
    other = folder / "other.sock"
    run = ["run", recorder.rig_file]
    line = refused(5, *run, "--store", folder / "other.db", "--socket", recorder.socket)
    assert str(recorder.socket) in line
    line = refused(5, *run, "--store", recorder.store, "--socket", other)
    assert str(recorder.store) in line
    assert not other.exists()
    assert recorder.state().store.error == ""


def test_start_state_abort(recorder):
    place = ["--socket", recorder.socket]
    assert "no joint is open" in refused(5, "abort", "--reason", "none", *place)

    started = beadwatch("start", JOINT_FILE, *place)
    assert started.returncode == 0, started.stderr
    uuid = recorder.joint().header.uuid
    assert started.stdout == f"{uuid} attempt 1\n"
    assert JOINT in refused(5, "start", JOINT_FILE, *place)

    recorder.until(lambda state: all(c.value is not None for c in state.channels), "all channels read")
    told = json.loads(beadwatch("state", "--json", *place).stdout)
    assert (told["joint"], told["joint_uuid"], told["attempt"]) == (JOINT, uuid, 1)
    assert (told["origin"], told["store"]["error"]) == ("simulated", "")
    channels = {channel["quantity"]: channel for channel in told["channels"]}
    assert {c["unit"] for c in channels.values()} >= {"bar", "degC", "mm"}
    assert set(channels) == {"pressure", "plate_temperature", "carriage", "plate_in"}
    assert all(c["state"] == "present" and c["age_s"] >= 0 for c in channels.values())
    assert "pressure: " in beadwatch("state", *place).stdout

    aborted = beadwatch("abort", "--reason", "clamp slipped", *place)
    assert (aborted.returncode, aborted.stdout) == (0, f"{uuid}\n")
    end = recorder.end()
    assert (end.how, end.reason) == ("aborted", "clamp slipped")
    assert recorder.judgement()["verdict"] == "undecided"
    assert recorder.samples()

    again = beadwatch("start", JOINT_FILE, *place)
    assert again.stdout.endswith(" attempt 2\n")
    assert recorder.joint().previous_uuid == uuid


def test_the_drag_and_the_bead_as_a_person_confirms_them(recorder):
    place = ["--by", "R. Amsel", "--socket", recorder.socket]
    assert "no joint is open" in refused(5, "drag", "9 bar", *place)
    assert beadwatch("start", JOINT_FILE, "--socket", recorder.socket).returncode == 0
    uuid = recorder.joint().header.uuid
    assert recorder.state().drag_bar == 8.0
    assert "bar" in refused(3, "drag", "9 mm", *place)
    assert recorder.state().drag_bar == 8.0
    done = beadwatch("drag", "9.5 bar", *place)
    assert (done.returncode, done.stdout) == (0, f"{uuid}\n"), done.stderr
    assert recorder.state().drag_bar == 9.5
    assert "drag.confirmed" in [event.code for event in recorder.state().events]
    assert "no bead-up" in refused(5, "bead", *place)


def test_a_joint_that_cannot_be_is_refused_and_leaves_no_record(recorder, folder):
    place = ["--socket", recorder.socket]
    assert "PVDF" in refused(4, "start", out_of_scope(folder), *place)
    bad = folder / "bad.toml"
    bad.write_text(JOINT_FILE.read_text().replace("sdr =", "sdrr ="))
    line = refused(3, "start", bad, *place)
    assert str(bad) in line
    assert "sdr" in line
    assert recorder.state().joint_uuid is None
    assert beadwatch("joints", "list", "--json", "--store", recorder.store).stdout == ""


def test_a_recorder_that_cannot_start_says_why(folder):
    recorder = Recorder(folder, 'kind = "modbus-tcp"\nhost = "127.0.0.1"\nport = 1\n', time_scale=1.0)
    place = ["--store", recorder.store, "--socket", recorder.socket]
    missing = folder / "nowhere.toml"
    assert str(missing) in refused(3, "run", missing, *place)
    assert str(missing) in refused(3, "run", recorder.rig_file, "--joint", missing, *place)
    assert "PVDF" in refused(4, "run", recorder.rig_file, "--joint", out_of_scope(folder), *place)
    assert not recorder.socket.exists()
    assert "no recorder answers" in refused(5, "state", "--socket", recorder.socket)


def test_the_intervals_without_a_recorder_are_recorded(folder):
    """With no device at all: the recorder waits for it, and serves its socket meanwhile."""
    recorder = Recorder(folder, 'kind = "modbus-tcp"\nhost = "127.0.0.1"\nport = 1\n', time_scale=1.0)
    with recorder.recording(joint_file=None) as process:
        recorder.until(lambda state: all(c.state == "lost" for c in state.channels), "the rig is missed")
        assert recorder.off_reasons() == []
        process.kill()
    with recorder.recording(joint_file=None) as process:
        assert recorder.off_reasons() == ["killed or power lost"]
        process.terminate()
        process.wait()
    with recorder.recording(joint_file=None):
        assert recorder.off_reasons() == ["killed or power lost", "stopped"]
