"""kill -9 in the middle of a joint: nothing committed is lost, and the joint goes on or is closed."""

import subprocess
import time
from itertools import pairwise
from pathlib import Path

import pytest

from logger.daemon.recovery import RESUME_WITHIN_S
from logger.domain.sample import RawSample
from logger.store.verify import verify_record
from tests.system.processes import Recorder, Simulator, codes_of, has_stalled, simulated

pytestmark = [pytest.mark.system, pytest.mark.timeout(500)]

KILL_SCALES = (10.0, 4.0)
"""Slower than elsewhere: the recorder's second start must fit into a fifth of the cooling."""
SOAK_SEEN_S = 15.0
CHANGEOVER_IS_OVER_S = 90.0
"""Later than this after heat soak has been seen to begin, the scenario is in cooling."""


def kill(process: "subprocess.Popen[str]", recorder: Recorder) -> list[RawSample]:
    """Kill as a power cut would; return what a reader had seen just before."""
    committed = recorder.samples()
    process.kill()
    process.wait()
    return committed


def start_recording(rig: Simulator, folder: Path, time_scale: float) -> Recorder:
    return Recorder(folder, rig.bus("tcp"), time_scale=time_scale)


def check_gone_on(recorder: Recorder, uuid: str, committed: list[RawSample]) -> None:
    """The same record, with all that had been committed, and with its gap."""
    assert recorder.joint().header.uuid == uuid
    assert recorder.joint().attempt == 1
    samples = recorder.samples()
    assert committed
    assert samples[: len(committed)] == committed
    assert len(samples) > len(committed)
    assert all(before.t_ms < after.t_ms for before, after in pairwise(samples))
    assert "recorder_stopped" in recorder.event_codes()
    assert recorder.end().how == "finished"
    check_sealed(recorder)


def check_sealed(recorder: Recorder) -> None:
    """One chain over the kill, with the seals of both starts, and nothing that a verifier could doubt."""
    found = verify_record(recorder.store)
    assert (found.faults, found.is_good) == ([], True)


def killed_in_cooling(folder: Path, time_scale: float) -> tuple[Recorder, str, list[RawSample]]:
    with simulated("clean", folder, time_scale=time_scale) as rig:
        recorder = start_recording(rig, folder / "r", time_scale)
        with recorder.recording() as process:
            begun_s = recorder.until_phase("cooling").now_s
            recorder.until(lambda state: state.now_s > begun_s + 20, "steady cooling")
            uuid = recorder.joint().header.uuid
            committed = kill(process, recorder)
        with recorder.recording():
            recorder.until_ended()
    return recorder, uuid, committed


def test_killed_in_steady_cooling_the_joint_goes_on_and_is_decided(folder):
    for time_scale in KILL_SCALES:
        recorder, uuid, committed = killed_in_cooling(folder / f"x{time_scale:g}", time_scale)
        judgement = recorder.judgement()
        was_slow = "cooling.pressure.not_observed" in judgement["reasons"] or has_stalled(committed)
        if judgement["verdict"] == "conforming" or not was_slow:
            break
    check_gone_on(recorder, uuid, committed)
    assert (judgement["verdict"], judgement["findings"]) == ("conforming", [])


def test_killed_over_the_changeover_the_joint_goes_on_undecided(folder):
    time_scale = KILL_SCALES[0]
    with simulated("clean", folder, time_scale=time_scale) as rig:
        recorder = start_recording(rig, folder / "r", time_scale)
        with recorder.recording() as process:
            soak_s = recorder.until_phase("heat_soak").now_s
            recorder.until(lambda _: recorder.stored_s() > soak_s + SOAK_SEEN_S, "the soak is stored")
            uuid = recorder.joint().header.uuid
            committed = kill(process, recorder)
        time.sleep(CHANGEOVER_IS_OVER_S / time_scale)
        with recorder.recording():
            recorder.until_ended()
    check_gone_on(recorder, uuid, committed)
    judgement = recorder.judgement()
    assert judgement["verdict"] == "undecided"
    assert any(reason.startswith("changeover.") for reason in judgement["reasons"])
    assert not codes_of(judgement, "fault")


def test_away_for_ten_minutes_the_joint_is_closed_as_interrupted_with_its_judgement(folder):
    """Ten minutes on the recorder's clock, which runs fast; with fewer polls, so that it keeps up."""
    time_scale = 100.0
    with simulated("clean", folder, time_scale=time_scale) as rig:
        recorder = Recorder(folder / "r", rig.bus("tcp"), time_scale=time_scale, rate_hz=1)
        with recorder.recording() as process:
            recorder.until(lambda state: state.now_s > 60, "the preparation is recorded")
            uuid = recorder.joint().header.uuid
            committed = kill(process, recorder)
        time.sleep(1.1 * RESUME_WITHIN_S / time_scale)
        with recorder.recording(joint_file=None):
            state = recorder.state()
    assert state.joint_uuid is None
    assert recorder.joint().header.uuid == uuid
    assert recorder.end().how == "interrupted"
    assert recorder.samples()[: len(committed)] == committed
    assert recorder.judgement()["joint"] == recorder.joint().number
    assert recorder.judgement()["verdict"] == "undecided"
    check_sealed(recorder)


def test_stopped_on_purpose_the_joint_goes_on_too(folder):
    with simulated("clean", folder, time_scale=1.0) as rig:
        recorder = start_recording(rig, folder / "r", 1.0)
        with recorder.recording() as process:
            recorder.until(lambda state: state.now_s > 1, "some samples")
            uuid = recorder.joint().header.uuid
            process.terminate()
            assert process.wait(timeout=60) == 0
        stored = recorder.samples()
        with recorder.recording():
            assert recorder.state().joint_uuid == uuid
            recorder.until(lambda _: len(recorder.samples()) > len(stored), "recording goes on")
    assert recorder.samples()[: len(stored)] == stored
    assert "recorder_stopped" in recorder.event_codes()
