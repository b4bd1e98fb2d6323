"""Batches against a server that answers at random, the forwarder killed at random: what is missing or extra.

The forwarder runs as a process of its own, with the public client, on a clock `SCALE` times as fast, so that
its waits and its minute of overlap pass quickly. Nothing is asserted here.
"""

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

from logger.daemon.clock import MachineClock
from logger.daemon.forward_source import LineSource
from logger.daemon.forwarding import Forwarder
from logger.domain.forward_target import ForwardTarget
from logger.domain.record import Stamp
from logger.forward.influx import InfluxSink
from logger.forward.outbox import Outbox, Position
from logger.wire.judgement import to_json
from tests.bench.forward_chaos import Chaos, is_poison, parts_of, serving
from tests.unit.forward.lossy_server import RIG
from tests.unit.store.record_values import EMITTED, FINISHED, JUDGEMENT, header, open_writer, sample

SCALE = 100.0
LOSES_S = 8.0 / SCALE
"""What a restart loses: 8 s of the forwarder's clock (VictoriaMetrics 1.79 lost up to 7 s, seen)."""
TIMEOUT_S = 0.25
JOINTS, BATCH_LINES = 8, 40
TARGET = "office"
PAST = Stamp(mono_ms=1_000, utc="2024-05-04T07:00:00.000Z")
"""Nothing here is about stamps ahead of the server's clock."""


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """`samples` in each joint; what is through before `batches` are is sent again.

    `killed_after` is how many batches lie between two kills, least and most.
    """

    batches: int
    seed: int
    tells_start: bool
    samples: int = 2_000
    killed_after: tuple[int, int] = (20, 200)


@dataclass(frozen=True, kw_only=True)
class Fuzzed:
    """Counts of lines: `missing` are neither on the server nor put aside; `aside` were put aside though good.

    After a resend to a server that is well, `unsound` were put aside for no reason, or not for one.
    """

    batches: int
    answers: dict[str, int]
    kills: int
    restarts: int
    lines: int
    missing: int
    extra: int
    different: int
    aside: int
    missing_after_resend: int
    unsound: int


def fuzzed(folder: Path, wanted: Wanted) -> Fuzzed:
    """Run so many batches, then let the server be well and the forwarder come to its end."""
    store, outbox_path = folder / "record.db", folder / "outbox.db"
    _fill(store, wanted.samples)
    lines = list(_all_lines(store))
    expected = dict(map(parts_of, lines))
    poison = {line for line in lines if is_poison(line)}
    good = expected.keys() - {parts_of(line)[0] for line in poison}
    chaos = Chaos(wanted.seed, LOSES_S if wanted.tells_start else None, 2 * TIMEOUT_S)
    draw = Random(wanted.seed)
    kills = 0
    with serving(chaos) as url, closing(Outbox(outbox_path)) as outbox:
        arguments = [sys.executable, "-m", "tests.bench.forward_fuzz", str(store), str(outbox_path), url]
        while chaos.asked < wanted.batches:
            until = min(wanted.batches, chaos.asked + draw.randint(*wanted.killed_after))
            child = subprocess.Popen(arguments)
            while child.poll() is None and chaos.asked < until:
                time.sleep(0.002)
            if child.poll() is None:
                kills += 1
            else:
                outbox.put_back(TARGET, Position())
            child.kill()
            child.wait()
        asked = chaos.asked
        chaos.is_calm = True
        subprocess.run(arguments, check=True)
        aside = {one.line for one in outbox.parked(TARGET)}
        missing = good - chaos.points.keys() - {parts_of(line)[0] for line in aside}
        outbox.unpark(TARGET)
        outbox.put_back(TARGET, Position())
        subprocess.run(arguments, check=True)
        return Fuzzed(
            batches=asked,
            answers=dict(sorted(chaos.kinds.items())),
            kills=kills,
            restarts=chaos.restarts,
            lines=len(expected),
            missing=len(missing),
            extra=len(chaos.points.keys() - good),
            different=sum(chaos.points[key] != expected[key] for key in good & chaos.points.keys()),
            aside=len(aside - poison),
            missing_after_resend=len(good - chaos.points.keys()),
            unsound=len({one.line for one in outbox.parked(TARGET)} ^ poison),
        )


def told(result: Fuzzed) -> Iterator[str]:
    """The figures, as lines."""
    answers = ", ".join(f"{name} {count}" for name, count in result.answers.items())
    yield f"{result.batches} batches ({answers}); killed {result.kills} times, {result.restarts} restarts"
    yield (
        f"  of {result.lines} lines: missing {result.missing}, extra {result.extra}, "
        f"different {result.different}; {result.aside} good ones put aside for a random 400"
    )
    yield f"  after a resend: missing {result.missing_after_resend}, wrongly put aside {result.unsound}"


def _all_lines(store: Path) -> Iterator[str]:
    source, at = LineSource(store), Position()
    while True:
        lines, _ = source.after(at)
        if not lines:
            return
        yield from (line.text for line in lines)
        at = lines[-1].through


def _fill(store: Path, samples: int) -> None:
    writer = open_writer(store)
    emitted = replace(EMITTED, text=to_json(JUDGEMENT))
    for index in range(1, JOINTS + 1):
        writer.open_joint(replace(header(index, f"A-{index}"), rig_toml=RIG, opened=PAST))
        for number in range(samples):
            writer.append(header(index).uuid, sample(number))
        writer.close_joint(header(index).uuid, FINISHED, emitted)
    writer.close()


def _forward(store: Path, outbox_path: Path, url: str) -> None:
    """The process that is killed."""
    target = ForwardTarget(name=TARGET, url=url, org="works", bucket="rigs", token="t", timeout_s=TIMEOUT_S)
    with closing(Outbox(outbox_path)) as outbox, closing(InfluxSink(target)) as sink:
        forwarder = Forwarder(store, outbox, TARGET, sink, MachineClock(SCALE), BATCH_LINES)
        while not forwarder.is_caught_up:
            time.sleep(forwarder.step() / SCALE)


if __name__ == "__main__":
    _forward(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3])
