"""The report of a project in words: how many of which verdict, what is missing, every joint in one line."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.domain.dossier import Dossier
from logger.domain.judgement import Severity, Verdict
from logger.domain.record import HowEnded, RecorderOff, Statement
from logger.domain.report import ProjectReport, ReportTable
from logger.domain.rig import overdue_of
from logger.wording.acceptance import acceptance_rows
from logger.wording.events import VERDICT_NAMES
from logger.wording.joint_list_text import joint_label
from logger.wording.report_text import banner_of, verdict_text

_JOINT_HEADINGS = (
    "joint", "opened (UTC)", "operator", "pipe", "verdict of the curve", "preparation", "visual", "closed",
)  # fmt: skip
_JOINT_SHARES = (0.1, 0.14, 0.1, 0.12, 0.16, 0.14, 0.14, 0.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Conspicuous:
    """What stands out over all joints, by name."""

    missing: Sequence[str]
    alike: Sequence[tuple[str, ...]]
    without_dip: Sequence[str]
    recorder_off: Sequence[RecorderOff] = ()
    """Those of its time."""


def project_report_of(
    project: str, dossiers: Sequence[Dossier], conspicuous: Conspicuous, seal: tuple[str, ...]
) -> ProjectReport:
    """Word the report over `dossiers`, which need no samples, in the order of opening."""
    banners = {banner_of(d.record.header.origin, d.record.header.time_scale) for d in dossiers}
    return ProjectReport(
        title=f"Project {project or '(no name)'}",
        subtitle=f"{len(dossiers)} joints, {_period(dossiers)}",
        banner="; ".join(sorted(filter(None, banners))),
        tables=(
            ("Verdicts of the recorded curves", _verdicts(dossiers)),
            ("By operator", _operators(dossiers)),
            ("Findings", _findings(dossiers)),
        ),
        notices=tuple(_notices(dossiers, conspicuous)),
        joints=ReportTable(
            headings=_JOINT_HEADINGS, shares=_JOINT_SHARES, rows=tuple(_joint_row(d) for d in dossiers)
        ),
        seal=seal,
    )


def joint_name(dossier: Dossier) -> str:
    return joint_label(dossier.record)


def _period(dossiers: Sequence[Dossier]) -> str:
    days = sorted(d.record.header.opened.utc[:10] for d in dossiers)
    return f"opened {days[0]} to {days[-1]}" if days else "none opened"


def _verdict(dossier: Dossier) -> str:
    return "open" if dossier.record.verdict is None else VERDICT_NAMES[dossier.record.verdict]


def _verdicts(dossiers: Sequence[Dossier]) -> ReportTable:
    counts = Counter(_verdict(d) for d in dossiers)
    rows = tuple(
        (name, str(count), f"{100 * count / len(dossiers):.1f} %") for name, count in counts.most_common()
    )
    return ReportTable(headings=("verdict", "joints", "share"), shares=(0.5, 0.25, 0.25), rows=rows)


def _operators(dossiers: Sequence[Dossier]) -> ReportTable:
    counts = Counter((d.record.header.operator or "not entered", _verdict(d)) for d in dossiers)
    rows = tuple((*key, str(count)) for key, count in sorted(counts.items()))
    return ReportTable(headings=("operator", "verdict", "joints"), shares=(0.5, 0.25, 0.25), rows=rows)


def _findings(dossiers: Sequence[Dossier]) -> ReportTable:
    counts = Counter(
        (finding.code, "fault" if finding.severity is Severity.FAULT else "remark")
        for d in dossiers
        if d.judgement
        for finding in d.judgement.findings
    )
    rows = tuple((*key, str(count)) for key, count in counts.most_common())
    return ReportTable(headings=("finding", "kind", "times"), shares=(0.6, 0.2, 0.2), rows=rows)


def _notices(dossiers: Sequence[Dossier], conspicuous: Conspicuous) -> Iterator[str]:
    named = {
        "Numbers that are not there": conspicuous.missing,
        "Recorded without a joint open and not claimed": [
            joint_name(d) for d in dossiers if d.record.number is None
        ],
        "Broken off or interrupted": [
            joint_name(d) for d in dossiers if d.record.end and d.record.end.how is not HowEnded.FINISHED
        ],
        "Not conforming and not closed": [joint_name(d) for d in dossiers if _is_left_open(d)],
        "Cut out": [joint_name(d) for d in dossiers if _closed(d) == "cut out"],
        "Calibration overdue when the joint was opened": [joint_name(d) for d in dossiers if _is_overdue(d)],
        "No dip of the plate at contact (small pipe may show none)": conspicuous.without_dip,
        "Pressure without travel of the carriage": [joint_name(d) for d in dossiers if _is_still(d)],
    }
    yield from (f"{what}: {', '.join(joints)}" for what, joints in named.items() if joints)
    for group in conspicuous.alike:
        yield f"Curves alike, every phase equally long: {', '.join(group)}: one curve recorded twice?"
    yield from _off(conspicuous.recorder_off)
    for d in dossiers:
        if d.record.previous_uuid:
            yield f"{joint_name(d)} follows attempt {d.record.attempt - 1} ({d.record.previous_uuid[:8]})"
        for said in d.statements:
            if said.kind == "opinion":
                yield f"{joint_name(d)}: original verdict {_verdict(d)}; {_opinion(said)}"


def _off(intervals: Sequence[RecorderOff]) -> Iterator[str]:
    """How often nothing could be recorded; each interval that began without a proper stop."""
    if intervals:
        yield f"The recorder was off {len(intervals)} times within this time"
    for off in intervals:
        if off.reason != "stopped":
            yield f"The recorder was off from {off.from_utc} to {off.to_utc}: {off.reason}"


def _closed(dossier: Dossier) -> str:
    """As what it was signed off, a concession by whom; empty where it was not."""
    signed = [said.body for said in dossier.statements if said.kind == "sign_off"]
    if not signed:
        return ""
    how, by = str(signed[-1].get("closed_as", "")).replace("_", " "), str(signed[-1].get("concession_by", ""))
    return f"{how} by {by}" if by else how


def _is_left_open(dossier: Dossier) -> bool:
    return dossier.record.verdict is Verdict.NONCONFORMING and not _closed(dossier)


def _is_overdue(dossier: Dossier) -> bool:
    opened_utc = dossier.record.header.opened.utc
    return bool(overdue_of(dossier.rig, opened_utc))


def _is_still(dossier: Dossier) -> bool:
    findings = dossier.judgement.findings if dossier.judgement else ()
    return any(".travel." in finding.code for finding in findings)


def _opinion(said: Statement) -> str:
    verdict, terms = said.body.get("verdict"), said.body.get("terms")
    return f"opinion of {said.author}, {said.at.utc}: {verdict}. {terms}; {said.reason}"


def _joint_row(dossier: Dossier) -> tuple[str, ...]:
    record, plan = dossier.record, dossier.judgement.plan if dossier.judgement else None
    pipe = f"{plan.material} dn {plan.outside_diameter_mm:g}" if plan else "not known"
    _, preparation, visual = (row.value for row in acceptance_rows("", dossier.statements))
    return (
        joint_name(dossier),
        record.header.opened.utc[:16].replace("T", " "),
        record.header.operator,
        pipe,
        verdict_text(dossier),
        preparation,
        visual,
        _closed(dossier) or "not signed off",
    )
