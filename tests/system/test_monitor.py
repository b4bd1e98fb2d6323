"""The monitor on the real recorder and a simulated rig: a joint watched, links cut, the terminal closed."""

import contextlib
import fcntl
import os
import pty
import resource
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
import urllib.request
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path

import pytest

from logger.domain.phase import PHASES
from tests.system.processes import (
    PATIENCE_S,
    ROOT,
    TIME_SCALES,
    Recorder,
    Simulator,
    has_stalled,
    last_has_stalled,
    simulated,
)
from tests.unit.tui.screens import text_of
from tui.app import MonitorApp
from tui.link import Place, RecorderLink
from tui.widgets.figure import Figure

pytestmark = [pytest.mark.system, pytest.mark.timeout(600)]

WATCHED_SCALES = (10.0, 4.0)
"""Times real time for a joint that is watched; the second where the machine stalled in the first."""


class Watcher:
    """The monitor's screens, watched from inside."""

    PATIENCE_S = 150.0
    """Longer than any step of a joint takes at the slowest scale that is watched."""

    def __init__(self, recorder: Recorder) -> None:
        self.app = MonitorApp(RecorderLink(Place(socket=recorder.socket)))

    @contextlib.asynccontextmanager
    async def watching(self, size: tuple[int, int] = (80, 24)):
        async with self.app.run_test(size=size) as self.pilot:
            yield self
        await self.app.link.close()

    @property
    def text(self) -> str:
        return text_of(self.app)

    @property
    def figure(self) -> str:
        paragraphs = self.app.screen.query_one("#figure", Figure).paragraphs
        return paragraphs[0] if paragraphs else ""

    async def until(self, claim: Callable[[], bool], what: str) -> None:
        deadline_s = time.monotonic() + self.PATIENCE_S
        while not claim():
            assert time.monotonic() < deadline_s, f"never seen: {what}\n{self.text}"
            await self.pilot.pause(0.02)


async def test_a_whole_joint_is_watched_to_its_verdict(folder):
    """Phases in order, each with its action; the bead confirmed with one key; clamps opened after it."""
    await at_a_scale_that_holds(folder, watch_to_the_verdict)


async def at_a_scale_that_holds(folder: Path, work: Callable[[Recorder, Simulator], Awaitable[None]]) -> None:
    """Do it at one time scale after the other, until it succeeds or fails with nothing stalled."""
    for time_scale in WATCHED_SCALES:
        place = folder / f"x{time_scale:g}"
        with simulated("clean", place / "rig", time_scale=time_scale) as rig:
            recorder = Recorder(place, rig.bus("tcp"), time_scale=time_scale)
            try:
                await work(recorder, rig)
            except AssertionError:
                if time_scale == WATCHED_SCALES[-1] or not has_stalled(recorder.samples()):
                    raise
            else:
                return


async def watch_to_the_verdict(recorder: Recorder, _: Simulator) -> None:
    with recorder.recording():
        watcher = Watcher(recorder)
        async with watcher.watching():
            await watcher.until(lambda: "PREPARATION   next: bead-up" in watcher.text, "preparation")
            await watcher.until(lambda: "BEAD-UP   next" in watcher.text, "bead-up")
            await watcher.pilot.press("b")
            await watcher.until(lambda: "Bead seen. Let the pressure down" in watcher.text, "bead seen")
            await watcher.until(lambda: "HANDS CLEAR" in watcher.text, "hands clear")
            await watcher.until(lambda: "No key is needed now" in watcher.text, "silence of the keys")
            await watcher.until(lambda: "Leave it clamped and still" in watcher.text, "cooling")
            await watcher.until(lambda: "Cooling time reached" in watcher.text, "cooling done")
            await watcher.until(lambda: "RELEASED" in watcher.text, "release")
            await watcher.until(lambda: "Verdict of the recorded curve" in watcher.text, "verdict")
            await watcher.pilot.press("c")
            await watcher.pilot.press("y")
            await watcher.until(lambda: "Clamps recorded as opened." in watcher.text, "clamps")
        seen = [phase for phase, _, _ in watcher.app.picture.phases]
    assert seen == list(PHASES)
    assert "bead.not_confirmed" not in recorder.event_codes()


async def test_a_monitor_that_comes_late_has_the_curve_from_the_start(folder):
    with simulated("clean", folder / "rig") as rig:
        recorder = Recorder(folder, rig.bus("tcp"))
        with recorder.recording():
            recorder.until_phase("cooling")
            watcher = Watcher(recorder)
            async with watcher.watching((120, 40)):
                await watcher.until(lambda: "COOLING   next: release" in watcher.text, "cooling")
                picture = watcher.app.picture
                await watcher.until(lambda: picture.last_seq > 1000, "the samples from before")
                assert picture.pressure.t_s[0] == recorder.samples()[0].t_ms / 1000
                assert [phase for phase, _, _ in picture.phases] == list(PHASES)
                await watcher.until(lambda: picture.operator == "J. Tarrow", "who makes the joint")


async def test_a_killed_recorder_is_missed_and_found_again(folder):
    with simulated("clean", folder / "rig", time_scale=1.0) as rig:
        recorder = Recorder(folder, rig.bus("tcp"), time_scale=1.0)
        watcher = Watcher(recorder)
        async with watcher.watching():
            await watcher.until(lambda: "NO RECORDER" in watcher.text, "nobody there yet")
            with recorder.recording() as process:
                await watcher.until(lambda: "PREPARATION" in watcher.text, "a first picture")
                await watcher.until(lambda: "bar on the gauge" in watcher.text, "a pressure")
                process.send_signal(signal.SIGKILL)
                process.wait()
                await watcher.until(lambda: "NO LINK" in watcher.text, "the loss")
                assert "Use the gauge and your watch." in watcher.text
                assert watcher.figure == ""
            before = watcher.app.picture.last_seq
            with recorder.recording(None):
                await watcher.until(lambda: "NO LINK" not in watcher.text, "the way back")
                await watcher.until(lambda: watcher.app.picture.last_seq > before, "new samples")
                assert watcher.app.is_running


async def test_a_silent_rig_takes_the_figures_away(folder):
    with simulated("clean", folder / "rig", time_scale=1.0) as rig:
        recorder = Recorder(folder, rig.bus("tcp"), time_scale=1.0)
        with recorder.recording():
            watcher = Watcher(recorder)
            async with watcher.watching():
                await watcher.until(lambda: watcher.app.picture.last_seq > 5, "samples")
                rig.pause()
                await watcher.until(lambda: "SENSOR pressure: no readings" in watcher.text, "the lost sensor")
                assert "Use the gauge and your watch." in watcher.text
                rig.resume()
                await watcher.until(lambda: "link ok, sensors ok" in watcher.text, "the sensor's return")


async def test_a_full_disk_is_said(folder):
    with simulated("clean", folder / "rig", time_scale=1.0) as rig:
        recorder = Recorder(folder, rig.bus("tcp"), time_scale=1.0)
        with recorder.recording() as process:
            watcher = Watcher(recorder)
            async with watcher.watching((40, 12)):
                await watcher.until(lambda: watcher.app.picture.last_seq > 5, "samples")
                unlimited = resource.prlimit(process.pid, resource.RLIMIT_FSIZE)
                resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (4096, unlimited[1]))
                await watcher.until(lambda: "NOT RECORDED" in watcher.text, "the failing record")
                resource.prlimit(process.pid, resource.RLIMIT_FSIZE, unlimited)
                await watcher.until(lambda: "NOT RECORDED" not in watcher.text, "the record's return")


class Terminal:
    """A program on a pseudo-terminal of 80x24; what it writes is drained and kept."""

    def __init__(self, arguments: list[str], first: tuple[str, ...] = ()) -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        environment = {**os.environ, "TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
        self.process = subprocess.Popen(
            [*first, sys.executable, "-m", "logger", *arguments],
            stdin=slave, stdout=slave, stderr=slave, start_new_session=True, env=environment,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )  # fmt: skip
        os.close(slave)
        self.written = b""
        self._reader = threading.Thread(target=self._drain, daemon=True)
        self._reader.start()

    def _drain(self) -> None:
        with contextlib.suppress(OSError):
            while data := os.read(self.master, 65536):
                self.written += data

    def until(self, text: str, count: int = 1) -> None:
        deadline_s = time.monotonic() + PATIENCE_S
        while self.written.count(text.encode()) < count:
            assert time.monotonic() < deadline_s, self.written[-3000:]
            assert self.process.poll() is None or text.encode() in self.written, self.written[-3000:]
            time.sleep(0.05)

    def press(self, keys: str) -> None:
        os.write(self.master, keys.encode())


@contextlib.contextmanager
def terminal(arguments: list[str], first: tuple[str, ...] = ()) -> Iterator[Terminal]:
    shown = Terminal(arguments, first)
    try:
        yield shown
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(shown.process.pid, signal.SIGKILL)
        shown.process.wait()
        with contextlib.suppress(OSError):
            os.close(shown.master)


def test_closing_the_terminal_in_the_middle_loses_nothing(folder):
    for time_scale in TIME_SCALES[1:]:
        place = folder / f"x{time_scale:g}"
        with simulated("clean", place / "rig", time_scale=time_scale) as rig:
            recorder = Recorder(place, rig.bus("tcp"), time_scale=time_scale)
            with recorder.recording():
                with terminal(["monitor", "--socket", str(recorder.socket)]) as shown:
                    shown.until("HEAT SOAK")
                # Closed and killed with its terminal here; `until_ended` asks that no sample was dropped.
                recorder.until_ended()
        assert recorder.end().how == "finished"
        assert recorder.off_reasons() == []
        verdict = recorder.judgement()["verdict"]
        if verdict == "conforming" or not has_stalled(recorder.samples()):
            break
    assert verdict == "conforming"


OUTLIVES_ITS_TERMINAL = (
    sys.executable,
    "-c",
    "import signal, subprocess, sys\n"
    "signal.signal(signal.SIGHUP, lambda *_: None)\n"
    "subprocess.call(sys.argv[1:])",
)
"""As `make` does: it alone is told of the end of the terminal, and waits for what it started."""


@pytest.mark.parametrize("first", [(), OUTLIVES_ITS_TERMINAL], ids=["alone", "started by another"])
def test_a_hung_up_terminal_ends_the_monitor_and_nothing_else(folder, first):
    with simulated("clean", folder / "rig", time_scale=1.0) as rig:
        recorder = Recorder(folder, rig.bus("tcp"), time_scale=1.0)
        with recorder.recording() as process:
            with terminal(["monitor", "--socket", str(recorder.socket)], first) as shown:
                shown.until("PREPARATION")
                os.close(shown.master)
                shown.process.wait(timeout=30)
            assert process.poll() is None
            assert recorder.state().joint_uuid is not None


def test_the_demonstration_opens_the_monitor_on_a_terminal(tmp_path):
    """And prints what it prints elsewhere once the monitor is closed, with the same exit code."""
    for time_scale in TIME_SCALES:
        record = tmp_path / f"{time_scale:g}"
        arguments = ["demo", "--scenario", "slow-changeover", "--record", str(record)]
        with terminal([*arguments, "--time-scale", str(time_scale)]) as shown:
            shown.until("PREPARATION")
            shown.until("RELEASED")
            shown.until("Verdict of the recorded curve")
            shown.press("q")
            shown.until("Close the monitor?")
            shown.press("y")
            code = shown.process.wait(timeout=60)
            printed = shown.written.decode(errors="replace")
        if code == 0 or not last_has_stalled(record / "record.db"):
            break
    assert code == 0, printed[-3000:]
    assert "Limit passed." in printed
    assert "verdict of the recorded curve: NOT conforming" in printed
    assert "changeover begins" in printed


def test_plain_lines_for_readers_and_scripts(folder):
    with simulated("clean", folder / "rig") as rig:
        recorder = Recorder(folder, rig.bus("tcp"))
        with recorder.recording():
            command = [sys.executable, "-m", "logger", "monitor", "--socket", str(recorder.socket), "--plain"]
            with subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1, cwd=ROOT
            ) as process:
                assert process.stdin
                assert process.stdout
                lines = [process.stdout.readline() for _ in range(2)]
                assert lines[0].startswith("link to simulated rig")
                while "heat soak begins" not in lines[-1]:
                    lines.append(process.stdout.readline())
                    assert lines[-1], lines
                process.stdin.write("\n")
                while "K-117 · simulated rig; HEAT SOAK" not in lines[-1]:
                    lines.append(process.stdout.readline())
                    assert lines[-1], lines
                assert "bar; plan at most 8.1" in lines[-1]
                assert any("bead-up begins" in line for line in lines)
                assert "\x1b" not in "".join(lines)
                process.terminate()


def test_the_same_screens_in_a_browser(folder):
    with simulated("clean", folder / "rig", time_scale=1.0) as rig:
        recorder = Recorder(folder, rig.bus("tcp"), time_scale=1.0)
        with recorder.recording():
            port = free_port()
            options = ["monitor", "--socket", str(recorder.socket), "--web", "--port", str(port)]
            with terminal(options):
                page = fetched(f"http://127.0.0.1:{port}/")
    assert "Beadwatch monitor" in page


def free_port() -> int:
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def fetched(url: str) -> str:
    deadline_s = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(url, timeout=5) as answer:
                return str(answer.read().decode())
        except OSError:
            assert time.monotonic() < deadline_s
            time.sleep(0.2)
