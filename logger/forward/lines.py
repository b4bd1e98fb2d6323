"""A joint as line protocol: the same joint gives the same lines, so that sending twice changes nothing.

Every point stands on the joint's own grid of whole milliseconds, counted from the UTC label of its opening,
and is unique within its series (measurement, rig, joint and, where named, phase or code). Numbers go as
numbers too where a word says it, since some servers keep no text.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from logger.domain.judgement import Judgement, Severity
from logger.domain.record import JointRecord
from logger.domain.sample import Sample

SAMPLE, PHASE, FINDING, JOINT = "beadwatch_sample", "beadwatch_phase", "beadwatch_finding", "beadwatch_joint"
VERDICT_NUMBERS = {"conforming": 0, "nonconforming": 1, "undecided": 2}


@dataclass(frozen=True, slots=True)
class Series:
    """Where the lines of one joint go: its tags, and the millisecond of the epoch at which it began."""

    rig: str
    joint: str
    epoch_ms: int

    @property
    def tags(self) -> str:
        return f"rig={_tag(self.rig)},joint={_tag(self.joint)}"

    def at(self, t_s: float | None) -> int:
        """Milliseconds since the epoch of a time on the joint's own clock; its beginning for None."""
        return self.epoch_ms + round(1000 * (t_s or 0.0))


def series_of(record: JointRecord, rig: str) -> Series:
    """The series of a joint on the rig of this name."""
    opened = datetime.fromisoformat(record.header.opened.utc).astimezone(UTC)
    return Series(rig=rig, joint=record.header.uuid, epoch_ms=round(opened.timestamp() * 1000))


def sample_line(series: Series, sample: Sample) -> str:
    """One poll; empty where it has no usable reading: nothing is sent for what was not read."""
    fields = ",".join(f"{name}={value!r}" for name, value in sample_values(sample).items())
    return f"{SAMPLE},{series.tags} {fields} {series.at(sample.t_s)}" if fields else ""


def sample_values(sample: Sample) -> dict[str, float]:
    """The usable readings of a poll by field name."""
    values = {
        "pressure_bar": sample.pressure_bar,
        "plate_temperature_degC": sample.plate_temperature_degC,
        "carriage_mm": sample.carriage_mm,
        "plate_in": None if sample.plate_in is None else float(sample.plate_in),
    }
    return {name: value for name, value in values.items() if value is not None}


def joint_lines(series: Series, record: JointRecord, judgement: Judgement | None, head: str) -> Iterator[str]:
    """Phases, findings and the joint itself; `head` is the link that sealed its end, empty when unsealed."""
    if judgement is not None:
        yield from _phase_lines(series, judgement)
        yield from _finding_lines(series, judgement)
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
    numbers: dict[str, float] = {"attempt": float(record.attempt), "time_scale": header.time_scale}
    if record.verdict is not None:
        numbers["verdict_number"] = float(VERDICT_NUMBERS[record.verdict.value])
    if judgement is not None:
        numbers["fault_count"] = float(sum(f.severity is Severity.FAULT for f in judgement.findings))
    fields = [f"{key}={_text(value)}" for key, value in texts.items() if value]
    fields += [f"{key}={value!r}" for key, value in numbers.items()]
    yield f"{JOINT},{series.tags} {','.join(fields)} {series.at(None)}"


def _phase_lines(series: Series, judgement: Judgement) -> Iterator[str]:
    for span in judgement.phases:
        if span.start.at_s is None:
            continue
        fields = [f"start_s={span.start.at_s!r}"]
        if span.start.u_s is not None:
            fields.append(f"start_u_s={span.start.u_s!r}")
        if span.duration_s is not None:
            fields.append(f"duration_s={span.duration_s!r}")
        tags = f"{series.tags},phase={_tag(span.phase.value)}"
        yield f"{PHASE},{tags} {','.join(fields)} {series.at(span.start.at_s)}"


def _finding_lines(series: Series, judgement: Judgement) -> Iterator[str]:
    """A code found twice at one time takes the next millisecond: points of one series stay apart."""
    taken: set[tuple[str, int]] = set()
    for finding in judgement.findings:
        at_ms = series.at(finding.start_s)
        while (finding.code, at_ms) in taken:
            at_ms += 1
        taken.add((finding.code, at_ms))
        fields = [f"is_fault={1.0 if finding.severity is Severity.FAULT else 0.0!r}"]
        fields += [
            f"{name}={value!r}"
            for name, value in (("measured", finding.measured), ("limit", finding.limit))
            if value is not None
        ]
        fields.append(f"severity={_text(finding.severity.value)}")
        yield f"{FINDING},{series.tags},code={_tag(finding.code)} {','.join(fields)} {at_ms}"


def batches(lines: Iterable[str], size: int) -> Iterator[list[str]]:
    """Non-empty batches of at most `size` lines; empty lines are left out."""
    batch: list[str] = []
    for line in lines:
        if line:
            batch.append(line)
        if len(batch) == size:
            yield batch
            batch = []
    if batch:
        yield batch


def _tag(text: str) -> str:
    """Escape a tag value; an empty one is not allowed by the protocol."""
    escaped = text.replace("\\", "\\\\").replace(",", "\\,").replace(" ", "\\ ").replace("=", "\\=")
    return escaped.replace("\n", "\\ ") or "none"


def _text(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    return f'"{escaped}"'
