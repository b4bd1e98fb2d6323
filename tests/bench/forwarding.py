"""How fast a backlog drains into a real time-series server on loopback, and whether all of it is there.

Run as `python -m tests.bench.forwarding --joints 300`: 30 working days of ten joints. With `--fuzz 10000` so
many batches go to a server that answers at random, while the forwarder is killed at random. Nothing is
asserted.
"""

import argparse
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from time import perf_counter

import httpx

from logger.config.rig_file import rig_of
from logger.daemon.clock import MachineClock
from logger.daemon.forward_check import compared, expected_points
from logger.daemon.forwarding import Forwarder
from logger.daemon.joint_files import planned_joint
from logger.domain.forward_target import ForwardTarget
from logger.forward.influx import InfluxSink
from logger.forward.outbox import Outbox
from logger.forward.readback import Dialect, points_on
from logger.store.outgoing import samples_from
from tests.bench.forward_fuzz import Wanted, fuzzed, told
from tests.bench.records import curves_of, demonstration, fill
from tests.bench.timing import yardstick_s
from tests.system.forward.servers import free_port, victoria_metrics

FIRST_YEAR = 2021
"""Long past: the server drops what lies ahead of its clock."""
COMPARED = 5


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--joints", type=int, default=300)
    arguments.add_argument("--fuzz", type=int, metavar="BATCHES", help="answers and kills at random instead")
    arguments.add_argument("--seed", type=int, default=1)
    chosen = arguments.parse_args()
    if chosen.fuzz:
        for tells_start in (True, False):
            with tempfile.TemporaryDirectory() as folder:
                kind = "tells" if tells_start else "does not tell"
                print(f"the server {kind} when it began to run", flush=True)  # noqa: T201 - the report
                result = fuzzed(
                    Path(folder), Wanted(batches=chosen.fuzz // 2, seed=chosen.seed, tells_start=tells_start)
                )
                for line in told(result):
                    print(line, flush=True)  # noqa: T201 - the report
        return
    if shutil.which("victoria-metrics") is None:
        print("forwarding: skipped, the system package victoria-metrics is not installed")  # noqa: T201
        return
    with tempfile.TemporaryDirectory() as folder:
        for line in measured(Path(folder), chosen.joints):
            print(line, flush=True)  # noqa: T201 - the report


def measured(folder: Path, joints: int) -> Iterator[str]:
    """Fill a record, drain it, compare some of its joints point by point."""
    record = folder / "record.db"
    rig = rig_of(demonstration("rig.toml"), "rig.toml").rig
    planned = planned_joint(demonstration("joint.toml"), "joint.toml", rig)
    fill(record, joints, list(curves_of(3)), planned, first_year=FIRST_YEAR)
    waiting = samples_from(record, 0)
    yield f"{joints} joints wait: {waiting} samples, record {record.stat().st_size / 2**20:.1f} MiB"
    with victoria_metrics(folder / "server", free_port()) as url:
        sink = InfluxSink(ForwardTarget(name="bench", url=url, org="works", bucket="rigs", token="bench"))
        with closing(Outbox(folder / "outbox.db")) as outbox, closing(sink):
            forwarder = Forwarder(record, outbox, "bench", sink, MachineClock())
            begin = perf_counter()
            while not forwarder.is_caught_up:
                forwarder.step()
            took_s = perf_counter() - begin
            aside = len(outbox.parked("bench"))
        rate = waiting / took_s
        yield (
            f"drained in {took_s:.1f} s: {rate:.0f} samples/s, {rate * yardstick_s():.0f} in a yardstick; "
            f"{aside} lines put aside"
        )
        with httpx.Client(base_url=url, timeout=60.0, trust_env=False) as client:
            for number in range(0, joints, max(1, joints // COMPARED)):
                uuid, expected = expected_points(record, f"K-{number:07d}")
                found = compared(
                    expected, points_on(client, Dialect.VICTORIA_METRICS, "rigs", uuid), with_texts=False
                )
                yield (
                    f"  K-{number:07d}: {found.expected} points, {found.missing} missing, "
                    f"{found.extra} extra, {found.different} different"
                )


if __name__ == "__main__":
    main()
