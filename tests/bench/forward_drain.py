"""A backlog of weeks drained into a real server, while a recorder samples into the same record beside it."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from itertools import count, pairwise
from pathlib import Path
from time import monotonic, perf_counter, sleep

import httpx

from logger.config.rig_file import rig_of
from logger.daemon.forward_check import Comparison, compared, expected_points
from logger.daemon.joint_files import planned_joint
from logger.domain.sample import RawSample
from logger.forward.outbox import outbox_path, statuses_of
from logger.forward.readback import Dialect, points_on
from logger.store.outgoing import samples_from
from tests.bench.records import curves_of, demonstration, fill
from tests.bench.timing import yardstick_s
from tests.system.forward.servers import forward_file, free_port, victoria_metrics
from tests.system.processes import ROOT, Recorder, simulated

FIRST_YEAR = 2021
"""Long past: the server drops what lies ahead of its clock."""
CURVES = 6
COOLING_S = 660.0
"""Makes joints of a quarter of an hour."""
LIVE = 'description = "cools for hours"\nbase = "clean"\n[targets]\ncooling_min_s = 14400\n'
LONGEST_CONTROL_S = 300.0
PROGRESS_EVERY_S = 30.0
INTERVAL_MS = 100
MERGED_WITHIN_S = 60.0
DIALECT = Dialect.VICTORIA_METRICS


def drained(folder: Path, joints: int) -> Iterator[str]:
    """Fill a record, record into it live, drain it, record on without forwarding, read everything back."""
    (folder / "live.toml").write_text(LIVE)
    with ExitStack() as stack:
        simulator = stack.enter_context(simulated(str(folder / "live.toml"), folder, time_scale=1.0))
        recorder = Recorder(folder, simulator.bus("tcp"), time_scale=1.0)
        planned_record(recorder.store, joints)
        waiting = samples_from(recorder.store, 0)
        yield f"{joints} joints wait: {waiting} samples, record {_mebibytes(recorder.store):.1f} MiB"
        stack.enter_context(recorder.recording())
        server = folder / "server"
        url = stack.enter_context(victoria_metrics(server, free_port()))
        from_s, begin = recorder.state().now_s, perf_counter()
        yield from forwarded(folder, recorder.store, url)
        took_s, to_s = perf_counter() - begin, recorder.state().now_s
        rate = waiting / took_s
        yield f"drained in {took_s:.1f} s: {rate:.0f} samples/s, {rate * yardstick_s():.0f} in a yardstick"
        sleep(min(took_s, LONGEST_CONTROL_S))
        end_s = recorder.state().now_s
        samples = recorder.samples()
        yield f"sampled beside it, {_slots(samples, from_s, to_s)}"
        yield f"and without it, {_slots(samples, to_s, end_s)}"
        total, series = read_back(recorder.store, url, joints)
        parked = sum(one.parked for one in statuses_of(outbox_path(recorder.store)))
        yield (
            f"read back: {total.expected} points of {joints} joints, {total.missing} missing, {total.extra} "
            f"extra, {total.different} different; {parked} lines put aside"
        )
        before = _bytes_in(server)
        httpx.get(f"{url}/internal/force_merge", trust_env=False).raise_for_status()
        size = _settled(server)
        yield (
            f"on the server's disk: {size / 2**20:.1f} MiB once merged ({before / 2**20:.1f} before), "
            f"{size / total.expected:.2f} bytes a point; {series / joints:.0f} series a joint"
        )


def planned_record(store: Path, joints: int, curves: int = CURVES) -> None:
    """A record of joints of a quarter of an hour, over so many curves."""
    rig = rig_of(demonstration("rig.toml"), "rig.toml").rig
    planned = planned_joint(demonstration("joint.toml"), "joint.toml", rig)
    made = list(curves_of(min(curves, joints), COOLING_S))
    fill(store, joints, made, planned, first_year=FIRST_YEAR)


def forwarded(folder: Path, store: Path, url: str) -> Iterator[str]:
    """Send until nothing waits, by the command; yields what it tells every half minute.

    Raises SystemExit when the command fails.
    """
    file = forward_file(folder, url)
    arguments = [sys.executable, "-m", "logger", "forward", "run", str(file), "--store", str(store), "--once"]
    with subprocess.Popen(arguments, cwd=ROOT) as forwarder:
        next_s = monotonic() + PROGRESS_EVERY_S
        while forwarder.poll() is None:
            sleep(0.1)
            if monotonic() > next_s:
                next_s += PROGRESS_EVERY_S
                for one in statuses_of(outbox_path(store)):
                    yield f"  {one.state}: {one.backlog} samples wait, the oldest of {one.oldest_utc}"
    if forwarder.returncode != 0:
        raise SystemExit(f"the forwarder ended with {forwarder.returncode}")


def _slots(samples: list[RawSample], from_s: float, to_s: float) -> str:
    """Slots of a window in which nothing was sampled, and how far apart samples came."""
    times_ms = [sample.t_ms for sample in samples if from_s <= sample.t_ms / 1000 <= to_s]
    steps_ms = sorted(after - before for before, after in pairwise(times_ms))
    missed = sum(round(step / INTERVAL_MS) - 1 for step in steps_ms)
    return (
        f"{to_s - from_s:.0f} s at 10 Hz: {missed} of {missed + len(times_ms)} slots missed; "
        f"steps {steps_ms[len(steps_ms) // 100]} to {steps_ms[-len(steps_ms) // 100]} ms (1 to 99 %)"
    )


def read_back(store: Path, url: str, joints: int) -> tuple[Comparison, int]:
    """Compare every point of the joints that waited; also return how many series they make."""
    found, series = [], 0
    with httpx.Client(base_url=url, timeout=120.0, trust_env=False) as client:
        for number in range(joints):
            uuid, expected = expected_points(store, f"K-{number:07d}")
            series += len(expected)
            there = points_on(client, DIALECT, "rigs", uuid)
            found.append(compared(expected, there, with_texts=DIALECT.keeps_text))
    total = Comparison(
        expected=sum(one.expected for one in found),
        missing=sum(one.missing for one in found),
        extra=sum(one.extra for one in found),
        different=sum(one.different for one in found),
    )
    return total, series


def _settled(folder: Path) -> int:
    """The size once it has not changed for three seconds."""
    size, deadline_s = -1, monotonic() + MERGED_WITHIN_S
    for _ in count():
        before, size = size, _bytes_in(folder)
        if size == before or monotonic() > deadline_s:
            return size
        sleep(3.0)
    raise AssertionError


def _bytes_in(folder: Path) -> int:
    sizes = []
    for file in folder.rglob("*"):
        try:
            sizes.append(file.stat().st_size if file.is_file() else 0)
        except FileNotFoundError:
            # Merged away meanwhile.
            continue
    return sum(sizes)


def _mebibytes(file: Path) -> float:
    return file.stat().st_size / 2**20
