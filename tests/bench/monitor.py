"""What the monitor costs and how late it is, in a real terminal: `python -m tests.bench.monitor`.

Two curves of 3,000 points, ten redraws a second: processor time and bytes to the terminal in a quiet phase.
Then the real recorder against a simulated rig: from the middle of a poll to its sample drawn.
"""

import argparse
import fcntl
import json
import os
import pty
import struct
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path
from typing import Any

from logger.store.reader import Reader
from tests.bench.timing import yardstick_s
from tests.system.processes import ROOT, Recorder, simulated

COLUMNS, ROWS = 120, 40


def terminal_run(arguments: list[str], result: Path) -> tuple[dict[str, Any], list[tuple[float, int]]]:
    """Run the child on a pseudo-terminal; return what it measured, and when how many bytes came."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
    environment = {**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"}
    command = [sys.executable, "-m", "tests.bench.monitor_child", str(result), *arguments]
    received: list[tuple[float, int]] = []
    with subprocess.Popen(command, stdin=slave, stdout=slave, stderr=slave, cwd=ROOT, env=environment):
        os.close(slave)
        while True:
            try:
                data = os.read(master, 65536)
            except OSError:
                break
            if not data:
                break
            received.append((time.monotonic(), len(data)))
    os.close(master)
    return json.loads(result.read_text(encoding="utf-8")), received


def quiet_phase(folder: Path, seconds: float) -> None:
    measured, received = terminal_run(["--seconds", str(seconds)], folder / "quiet.json")
    lasted_s = measured["to_s"] - measured["from_s"]
    count = sum(size for at_s, size in received if measured["from_s"] <= at_s <= measured["to_s"])
    each_ms = 1e3 * measured["cpu_s"] / measured["redraws"]
    yard_ms = 1e3 * yardstick_s()
    rate_Hz = measured["redraws"] / lasted_s
    sys.stdout.write(
        f"{COLUMNS}x{ROWS}, two curves of 3,000 points: {rate_Hz:.1f} redraws a second, "
        f"{each_ms:.2f} ms of processor time each, all of the monitor included (aim 5)\n"
        f"to the terminal in a quiet phase: {count / lasted_s / 1024:.2f} KiB a second (aim 10)\n"
        f"yardstick: a million additions in a Python loop, {yard_ms:.1f} ms; "
        f"a redraw costs {each_ms / yard_ms:.3f} of it\n"
    )


def latency(folder: Path, seconds: float) -> None:
    with simulated("clean", folder / "rig", time_scale=1.0) as rig:
        recorder = Recorder(folder, rig.bus("tcp"), time_scale=1.0)
        with recorder.recording():
            arguments = ["--seconds", str(seconds), "--socket", str(recorder.socket)]
            measured, _ = terminal_run(arguments, folder / "late.json")
            time.sleep(1.5)
        with Reader(recorder.store) as reader:
            record = reader.list_joints()[0]
            taken = reader.samples(record.header.uuid)
    epoch_ms = record.header.opened.mono_ms
    late_s = sorted(_latencies(measured["drawn"], [(epoch_ms + sample.t_ms) / 1e3 for sample in taken]))
    timer_s = sorted(measured["late_s"])
    sys.stdout.write(
        f"sample to screen, {len(late_s)} samples: median {1e3 * _share(late_s, 0.5):.0f} ms, "
        f"99 % within {1e3 * _share(late_s, 0.99):.0f} ms (aim 200)\n"
        f"yardstick: a timer of 100 ms in the same process is late by {1e3 * _share(timer_s, 0.5):.1f} ms, "
        f"99 % within {1e3 * _share(timer_s, 0.99):.1f} ms\n"
    )


def _latencies(drawn: list[tuple[int, float]], taken_s: list[float]) -> list[float]:
    """From each sample, numbered from 1, to the first drawing that had it."""
    late = []
    before = drawn[0][0]
    for seq, at_s in drawn[1:]:
        late += [at_s - taken_s[k - 1] for k in range(before + 1, seq + 1) if k <= len(taken_s)]
        before = seq
    return late


def _share(ordered: list[float], share: float) -> float:
    return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=30.0)
    seconds = parser.parse_args().seconds
    with tempfile.TemporaryDirectory(prefix="bw-") as name:
        quiet_phase(Path(name), seconds)
        latency(Path(name), seconds)


if __name__ == "__main__":
    main()
