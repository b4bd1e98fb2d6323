"""Values that the tests of the store put in, and a writer over a temporary file."""

from dataclasses import replace
from pathlib import Path

from logger.domain.channel import Quantity
from logger.domain.judgement import (
    Boundary,
    Finding,
    Judgement,
    PhaseSpan,
    Severity,
    Verdict,
)
from logger.domain.phase import PHASES
from logger.domain.record import EmittedJudgement, HowEnded, JointEnd, JointHeader, RecorderRun, Stamp
from logger.domain.rig import Origin
from logger.domain.sample import RawReading, RawSample
from logger.store.writer import Writer

OPENED = Stamp(mono_ms=1_000, utc="2031-05-04T07:00:00.000Z")
ENDED = Stamp(mono_ms=901_000, utc="2031-05-04T07:15:00.000Z", utc_verified=True)
FINISHED = JointEnd(how=HowEnded.FINISHED, reason="cooling done", at=ENDED)
RUN = RecorderRun(
    boot_id="boot-1", started=OPENED, software="0.1.0", time_scale=1.0, clock_source="CLOCK_MONOTONIC"
)
HEADER = JointHeader(
    uuid="00000000-0000-4000-8000-000000000001",
    number="A-001",
    project="Lindental",
    operator="R. Amsel",
    rig_json='{"name": "rig"}',
    rig_toml="[rig]\n",
    joint_toml='joint = "A-001"\n',
    procedure="dvs-2207-1:2015",
    plan_json='{"schema": "beadwatch.plan/1"}\n',
    origin=Origin.SIMULATED,
    time_scale=10.0,
    opened=OPENED,
    boot_id="boot-1",
)
JUDGEMENT = Judgement(
    joint="A-001",
    verdict=Verdict.NONCONFORMING,
    reasons=("changeover.duration.long",),
    decision_rule="simple acceptance",
    plan=None,
    phases=tuple(
        PhaseSpan(
            phase=phase,
            start=Boundary(at_s=10.0 * index, u_s=0.04),
            end=Boundary(reason="trace_ends") if phase is PHASES[-1] else Boundary(at_s=10.0 * index + 10.0),
        )
        for index, phase in enumerate(PHASES)
    ),
    findings=(
        Finding(
            code="changeover.duration.long",
            severity=Severity.FAULT,
            measured=9.1,
            limit=6.0,
            unit="s",
            start_s=20.0,
            end_s=29.1,
            clause="example clause, from memory",
            standard_uncertainty=0.05,
        ),
        Finding(
            code="plate.temperature.low",
            severity=Severity.REMARK,
            measured=None,
            limit=None,
            unit="degC",
            start_s=None,
            end_s=None,
            clause="",
        ),
    ),
    other_joints=(),
    origin=Origin.SIMULATED,
    time_scale=10.0,
)
EMITTED = EmittedJudgement(judgement=JUDGEMENT, text='{"schema": "beadwatch.judgement/1"}\n')


def header(index: int, number: str | None = "A-001", project: str = "Lindental") -> JointHeader:
    return replace(HEADER, uuid=f"00000000-0000-4000-8000-{index:012d}", number=number, project=project)


def sample(index: int) -> RawSample:
    readings = [RawReading(quantity=Quantity.PRESSURE, raw=400 + index % 7)]
    if index % 10 == 0:
        readings.append(RawReading(quantity=Quantity.PLATE_TEMPERATURE, raw=2200 + index % 3))
    return RawSample(t_ms=100 * index, half_width_ms=1 + index % 2, readings=tuple(readings))


def open_writer(path: Path, **options) -> Writer:
    """A writer with a run that commits only when asked, unless `interval_s` says otherwise."""
    writer = Writer(path, at=OPENED, **{"interval_s": 3600.0, **options})
    writer.start_run(RUN)
    return writer
