"""A joint as points and as line protocol: the same joint gives the same, so sending twice changes nothing.

Every point stands on the joint's own grid of whole milliseconds, counted from the UTC label of its opening,
and is unique within its series (measurement, rig, joint and, where named, phase or code). Numbers go as
numbers too where a word says it, since some servers keep no text.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from logger.domain.joint_plan import PlanStep
from logger.domain.judgement import Judgement, Severity
from logger.domain.record import JointRecord
from logger.domain.sample import Sample

SAMPLE, PHASE, FINDING, JOINT = "beadwatch_sample", "beadwatch_phase", "beadwatch_finding", "beadwatch_joint"
MEASUREMENTS = (SAMPLE, PHASE, FINDING, JOINT)
PHASE_TAG, CODE_TAG = "phase", "code"
VERDICT_NUMBERS = {"conforming": 0, "nonconforming": 1, "undecided": 2}
Value = float | str


@dataclass(frozen=True, slots=True)
class Series:
    """Where the points of one joint go: its tags, and the millisecond of the epoch at which it began."""

    rig: str
    joint: str
    epoch_ms: int

    @property
    def tags(self) -> str:
        return f"rig={_tag(self.rig)},joint={_tag(self.joint)}"

    def at(self, t_s: float | None) -> int:
        """Milliseconds since the epoch of a time on the joint's own clock; its beginning for None."""
        return self.epoch_ms + round(1000 * (t_s or 0.0))


@dataclass(frozen=True, slots=True)
class Point:
    """Some values at one time; `tag` tells it from others of its measurement and joint, where it has to."""

    measurement: str
    fields: Mapping[str, Value]
    at_ms: int
    tag: tuple[str, str] | None = None


def series_of(record: JointRecord, rig: str) -> Series:
    """The series of a joint on the rig of this name."""
    opened = datetime.fromisoformat(record.header.opened.utc).astimezone(UTC)
    return Series(rig=rig, joint=record.header.uuid, epoch_ms=round(opened.timestamp() * 1000))


def line_of(tags: str, point: Point) -> str:
    """A point with the tags of its series as one line."""
    own = "" if point.tag is None else f",{point.tag[0]}={_tag(point.tag[1])}"
    fields = ",".join(f"{name}={_field(value)}" for name, value in point.fields.items())
    return f"{point.measurement},{tags}{own} {fields} {point.at_ms}"


def sample_point(series: Series, sample: Sample) -> Point | None:
    """One poll; None where it has no usable reading: nothing is sent for what was not read."""
    values = {
        "pressure_bar": sample.pressure_bar,
        "plate_temperature_degC": sample.plate_temperature_degC,
        "carriage_mm": sample.carriage_mm,
        "plate_in": None if sample.plate_in is None else float(sample.plate_in),
    }
    fields = {name: value for name, value in values.items() if value is not None}
    return Point(SAMPLE, fields, series.at(sample.t_s)) if fields else None


def joint_points(
    series: Series, record: JointRecord, judgement: Judgement | None, head: str
) -> Iterator[Point]:
    """Phases, findings and the joint itself; `head` is the link that sealed its end, empty when unsealed."""
    if judgement is not None:
        yield from _phase_points(series, judgement)
        yield from _finding_points(series, judgement)
    header = record.header
    texts = {
        "number": record.number or "",
        "project": record.project,
        "operator": header.operator,
        "procedure": header.procedure or "",
        "origin": header.origin.value,
        "verdict": record.verdict.value if record.verdict else "",
        "ended": record.end.how.value if record.end else "",
        "chain_head": head,
    }
    fields: dict[str, Value] = {key: value for key, value in texts.items() if value}
    fields |= {"attempt": float(record.attempt), "time_scale": header.time_scale}
    if record.verdict is not None:
        fields["verdict_number"] = float(VERDICT_NUMBERS[record.verdict.value])
    if judgement is not None:
        fields["fault_count"] = float(sum(f.severity is Severity.FAULT for f in judgement.findings))
    yield Point(JOINT, fields, series.at(None))


def _phase_points(series: Series, judgement: Judgement) -> Iterator[Point]:
    """Each phase that was seen, with what the plan asks of it; of a cooling in steps its first."""
    steps = judgement.plan.steps if judgement.plan else ()
    plan = {step.phase: step for step in reversed(steps)}
    for span in judgement.phases:
        if span.start.at_s is None:
            continue
        fields: dict[str, Value] = {"start_s": span.start.at_s}
        if span.start.u_s is not None:
            fields["start_u_s"] = span.start.u_s
        if span.duration_s is not None:
            fields["duration_s"] = span.duration_s
        if span.phase in plan:
            fields |= _plan_fields(plan[span.phase])
        yield Point(PHASE, fields, series.at(span.start.at_s), (PHASE_TAG, span.phase.value))


def _plan_fields(step: PlanStep) -> dict[str, Value]:
    pressure, duration = step.gauge_pressure_bar, step.duration_s
    limits = {
        "plan_gauge_min_bar": pressure.min,
        "plan_gauge_max_bar": pressure.max,
        "plan_min_s": duration.min,
        "plan_max_s": duration.max,
    }
    return {name: limit for name, limit in limits.items() if limit is not None}


def _finding_points(series: Series, judgement: Judgement) -> Iterator[Point]:
    """A code found twice at one time takes the next millisecond: points of one series stay apart."""
    taken: set[tuple[str, int]] = set()
    for finding in judgement.findings:
        at_ms = series.at(finding.start_s)
        while (finding.code, at_ms) in taken:
            at_ms += 1
        taken.add((finding.code, at_ms))
        fields: dict[str, Value] = {"is_fault": float(finding.severity is Severity.FAULT)}
        if finding.measured is not None:
            fields["measured"] = finding.measured
        if finding.limit is not None:
            fields["limit"] = finding.limit
        fields["severity"] = finding.severity.value
        yield Point(FINDING, fields, at_ms, (CODE_TAG, finding.code))


def _tag(text: str) -> str:
    """Escape a tag value; an empty one is not allowed by the protocol."""
    escaped = text.replace("\\", "\\\\").replace(",", "\\,").replace(" ", "\\ ").replace("=", "\\=")
    return escaped.replace("\n", "\\ ") or "none"


def _field(value: Value) -> str:
    if not isinstance(value, str):
        return repr(value)
    escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    return f'"{escaped}"'
