"""A recorder whose rig is unplugged, or loses its supply, under an open joint: a gap, and readings again."""

import os
import subprocess
from itertools import pairwise
from pathlib import Path

import pytest

from logger.domain.channel import Quantity
from logger.domain.gap import longest_interval_s
from logger.wire.live import StateMessage
from tests.system.processes import JOINT_FILE, Recorder, levers, until

pytestmark = pytest.mark.system

AWAY_S = 3.0
RATE_HZ = 10


def pull(process: "subprocess.Popen[str]", lever: str) -> None:
    assert process.stdin
    process.stdin.write(f"{lever} {AWAY_S}\n")
    process.stdin.flush()


def states_of(state: StateMessage) -> set[str]:
    return {channel.state for channel in state.channels}


@pytest.mark.parametrize(("port", "lever"), [(p, v) for p in ("rtu", "tcp") for v in ("unplug", "dip")])
def test_every_channel_is_lost_and_comes_back_with_the_gap_in_the_record(
    tmp_path: Path, port: str, lever: str
) -> None:
    with levers(port, tmp_path) as (process, bus, name):
        recorder = Recorder(tmp_path / "recorder", bus, time_scale=1.0, rate_hz=RATE_HZ)
        with recorder.recording(JOINT_FILE):
            recorder.until(lambda state: states_of(state) == {"present"}, "all channels are read")
            before = os.path.realpath(name) if name else ""
            pull(process, lever)
            if name and lever == "unplug":
                until(lambda: not os.path.lexists(name), "the line has no name any more")
            recorder.until(lambda state: states_of(state) == {"lost"}, "all channels are lost")
            recorder.until(lambda state: states_of(state) == {"present"}, "readings come again")
            if name and lever == "dip":
                assert os.path.realpath(name) == before, "the converter has kept its power"
            stored_s = recorder.stored_s()
            until(lambda: recorder.stored_s() > stored_s, "what came afterwards is stored", recorder.log)
            recorder.link.abort("seen enough")
        log = recorder.log.read_text(encoding="utf-8")
    times_s = [
        sample.t_ms / 1000
        for sample in recorder.samples()
        if any(reading.quantity is Quantity.PRESSURE for reading in sample.readings)
    ]
    intervals_s = [b - a for a, b in pairwise(times_s)]
    longest_s = max(intervals_s)
    assert longest_s > longest_interval_s(1 / RATE_HZ)
    assert longest_s >= AWAY_S, "nothing was read while there was no rig to read"
    assert log.count("pressure lost: ") == log.count("pressure back after ") == 1
    codes = recorder.event_codes()
    assert codes.count("pressure.lost") == 1
    assert codes.count("pressure.present") >= 1
    why = log.partition("pressure lost: ")[2].partition("\n")[0]
    if lever == "unplug":
        # A poll under way when the plug comes out finds the line dead, the next one no line to open.
        told = ("cannot open", "link lost: unplugged") if name else ("cannot connect: Connection refused",)
        assert any(words in why for words in told)
    else:
        assert "no answer within" in why
    changed = log.count("pressure still lost, now: ")
    assert changed == codes.count("pressure.still_lost")
    if (port, lever) == ("tcp", "dip"):
        assert changed == 1, "first no answer, then no connection"
        why = log.partition("pressure still lost, now: ")[2].partition("\n")[0]
        assert why.endswith("cannot connect: Connection refused")
