"""What QA's side costs in a record of many joints, in processor time and on the clock, and how that grows.

Run as `python -m tests.bench.records --joints 1000 --curves 20`. Joints are simulated, each curve is judged
once and stored under many headers; nothing is asserted.
"""

import argparse
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from random import Random
from statistics import median
from time import perf_counter, process_time

from logger.cli.dossiers import dossier_of
from logger.cli.report import report_page
from logger.config.rig_file import rig_of
from logger.daemon.joint_files import PlannedJoint, planned_joint, rig_json
from logger.domain.channel import Quantity
from logger.domain.dossier import Dossier
from logger.domain.joint_query import JointGroup, JointOrder, JointQuery
from logger.domain.record import EmittedJudgement, HowEnded, JointEnd, JointHeader, RecorderRun, Stamp
from logger.domain.rig import Origin
from logger.domain.sample import RawReading, RawSample
from logger.domain.scale import samples_of
from logger.judge.judge import judge
from logger.store.reader import Reader
from logger.store.search import count_joints, find_joints
from logger.store.verify import verify_record
from logger.store.writer import Writer
from logger.wire.judgement import to_json
from logger.wire.plan import plan_to_json
from simulators.rig import simulate
from simulators.scenario import load_scenario
from simulators.sensors import Sensors
from tests.bench.many_joints import copied
from tests.bench.timing import yardstick_s

RATE_HZ = 10.0
SCENARIOS = ("clean", "slow-changeover", "short-soak", "low-joining-pressure", "hot-plate", "overshoot")
OPERATORS = ("J. Tarrow", "E. Weir", "N. Holt", "Ö. Übel")
REPEATS = 5
REPORTS = 20
FLUSHED_AT = 2_000
"""Samples at once: the writer holds only so many that are not committed."""
CHANNELS = (Quantity.PRESSURE, Quantity.PLATE_TEMPERATURE, Quantity.CARRIAGE, Quantity.PLATE_IN)


@dataclass(frozen=True)
class Curve:
    """One simulated joint, judged."""

    samples: list[RawSample]
    emitted: EmittedJudgement


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--joints", type=int, default=1000)
    arguments.add_argument("--curves", type=int, default=20)
    chosen = arguments.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for line in measured(Path(folder), chosen.joints, chosen.curves):
            print(line, flush=True)  # noqa: T201 - the report


def measured(folder: Path, joints: int, curves: int) -> Iterator[str]:
    """Fill records of a hundredth, a tenth and all of `joints`, and time each question to each."""
    yield f"{curves} curves under varied headers; a yardstick is a million additions in a Python loop"
    yard_ms = 1e3 * yardstick_s()
    yield f"yardstick: {yard_ms:.1f} ms"
    made = list(curves_of(curves))
    planned = planned_joint(
        demonstration("joint.toml"), "joint.toml", rig_of(demonstration("rig.toml"), "rig.toml").rig
    )
    for count in sorted({max(1, joints // 100), max(1, joints // 10), joints}):
        path = folder / f"{count}.db"
        begin = perf_counter()
        fill(path, count, made, planned)
        each_ms = 1e3 * (perf_counter() - begin) / count
        each_kib = path.stat().st_size / count / 1024
        yield f"{count} joints: stored and sealed at {each_ms:.1f} ms each, {each_kib:.1f} KiB each"
        for name, ask in _questions(path, count):
            times_ms = [_times_ms(ask) for _ in range(REPEATS)]
            spent_ms, lasted_ms = (median(column) for column in zip(*times_ms, strict=True))
            yield (
                f"  {name:36} {spent_ms:9.1f} ms {spent_ms / yard_ms:8.2f} yardsticks, "
                f"elapsed {lasted_ms:.1f} ms"
            )


def _questions(path: Path, count: int) -> Iterator[tuple[str, Callable[[], object]]]:
    filters = {
        "all, the last 50": JointQuery(),
        "project": JointQuery(project="Lindmoor 3"),
        "operator": JointQuery(operator="E. Weir"),
        "verdict": JointQuery(verdict="nonconforming"),
        "finding": JointQuery(finding="changeover.duration.long"),
        "pipe": JointQuery(material="PE100", outside_diameter_mm=63.0),
        "text that only one has": JointQuery(text=f"K-{count // 2:07d}"),
        "text that none has": JointQuery(text="nowhere"),
        "since": JointQuery(since="2031-06"),
    }
    for name, query in filters.items():
        yield f"list: {name}", lambda query=query: find_joints(path, query)
    for order in JointOrder:
        yield f"list: by {order}", lambda order=order: find_joints(path, JointQuery(order=order))
    for group in (JointGroup.OPERATOR, JointGroup.MONTH):
        yield f"count by {group}, all", lambda group=group: count_joints(path, JointQuery(), group)
    draw = Random(count)
    yield "one joint with curve", lambda: _dossier(path, draw.randrange(count))
    yield "verify one joint", lambda: verify_record(path, joints=[_uuid(draw.randrange(count))])
    yield f"{REPORTS} reports", lambda: [_page(path, draw.randrange(count)) for _ in range(REPORTS)]


def _dossier(path: Path, number: int) -> Dossier:
    with Reader(path) as reader:
        return dossier_of(reader, reader.joint(f"K-{number:07d}"))


def _page(path: Path, number: int) -> bytes:
    return report_page(_dossier(path, number))


def _times_ms(ask: Callable[[], object]) -> tuple[float, float]:
    """Processor time of this process, and time on the clock."""
    spent, lasted = process_time(), perf_counter()
    ask()
    return 1e3 * (process_time() - spent), 1e3 * (perf_counter() - lasted)


def demonstration(name: str) -> str:
    """The text of a file of the demonstration."""
    return (files("configs") / "demo" / name).read_text(encoding="utf-8")


def curves_of(count: int, cooling_s: float | None = None) -> Iterator[Curve]:
    """Simulated and judged joints of several scenarios, cooled for so long where that is given."""
    rig = rig_of(demonstration("rig.toml"), "rig.toml").rig
    plan = planned_joint(demonstration("joint.toml"), "joint.toml", rig).plan
    targets = {} if cooling_s is None else {"targets": {"cooling_min_s": cooling_s}}
    trajectories = [simulate(load_scenario(name).with_changes(targets)) for name in SCENARIOS[:count]]
    for seed in range(1, count + 1):
        samples = list(_samples(Sensors(trajectories[seed % len(trajectories)], seed=seed)))
        judgement = judge(samples_of(samples, rig), joint="K", plan=plan, rig=rig, origin=Origin.SIMULATED)
        yield Curve(samples, EmittedJudgement(judgement=judgement, text=to_json(judgement)))


def _samples(sensors: Sensors) -> Iterator[RawSample]:
    for number in range(int(sensors.trajectory.duration_s * RATE_HZ)):
        reading = sensors.read(number / RATE_HZ)
        if reading is not None:
            counts = zip(CHANNELS, reading, strict=True)
            readings = tuple(RawReading(quantity=quantity, raw=raw) for quantity, raw in counts)
            yield RawSample(t_ms=int(1000 * number / RATE_HZ), half_width_ms=2, readings=readings)


def fill(
    path: Path, count: int, curves: list[Curve], planned: PlannedJoint, *, first_year: int = 2031
) -> None:
    """Store `count` joints over a few curves, one every quarter of an hour, sealed as the recorder seals.

    Each curve is stored once by the writer itself; the other joints take over its blocks and running hashes
    under headers and links of their own, so that as many can be made as there are on a large site.
    """
    draw = Random(count)
    base = _header(planned)
    writer = Writer(path, at=_stamp(0), interval_s=3600.0, capacity=1_000_000)
    run_id = writer.start_run(
        RecorderRun(
            boot_id="bench", started=_stamp(0), software="bench", time_scale=1.0, clock_source="bench"
        )
    )

    def header(number: int) -> JointHeader:
        return replace(
            base, uuid=_uuid(number), number=f"K-{number:07d}", project=f"Lindmoor {draw.randrange(20)}",
            operator=draw.choice(OPERATORS), opened=_stamp(number, first_year),
        )  # fmt: skip

    for number, curve in enumerate(curves[:count]):
        writer.open_joint(header(number))
        for index, raw in enumerate(curve.samples, 1):
            writer.append(_uuid(number), raw)
            if index % FLUSHED_AT == 0:
                writer.flush()
        writer.close_joint(_uuid(number), _end(number), curve.emitted)
    writer.close()
    copied(path, run_id, [curve.emitted for curve in curves], (
        (header(number), _end(number)) for number in range(len(curves), count)
    ))  # fmt: skip


def _header(planned: PlannedJoint) -> JointHeader:
    return JointHeader(
        uuid="",
        number="",
        project="",
        operator="",
        rig_json=rig_json(rig_of(demonstration("rig.toml"), "rig.toml")),
        rig_toml=demonstration("rig.toml"),
        joint_toml=planned.text,
        procedure=planned.joint.procedure,
        plan_json=plan_to_json(planned.plan),
        origin=Origin.SIMULATED,
        time_scale=1.0,
        opened=_stamp(0),
        boot_id="bench",
    )


def _end(number: int) -> JointEnd:
    return JointEnd(how=HowEnded.FINISHED, reason="released", at=_stamp(number + 1))


def _uuid(number: int) -> str:
    return f"00000000-0000-4000-8000-{number:012d}"


def _stamp(number: int, first_year: int = 2031) -> Stamp:
    day, rest = divmod(number, 96)
    month, day = divmod(day, 28)
    hour, quarter = divmod(rest, 4)
    utc = (
        f"{first_year + month // 12}-{month % 12 + 1:02d}-{day + 1:02d}T{hour:02d}:{15 * quarter:02d}:00.000Z"
    )
    return Stamp(mono_ms=900_000 * number, utc=utc)


if __name__ == "__main__":
    main()
