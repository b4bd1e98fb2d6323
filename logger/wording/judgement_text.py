"""A judgement as lines of text: phases measured against plan, findings, verdict, what a curve cannot show."""

import textwrap
from collections.abc import Iterator, Sequence

from logger.domain.joint_plan import JointPlan
from logger.domain.judgement import Judgement, PhaseSpan, Severity
from logger.domain.record import Statement
from logger.domain.rig import Origin
from logger.wording.acceptance import acceptance_rows
from logger.wording.events import ORIGIN_NOTES, PHASE_NAMES, VERDICT_NAMES
from logger.wording.findings import finding_text
from logger.wording.measures_text import measures_lines
from logger.wording.plan_text import COLUMNS, duration_text
from logger.wording.reasons import information_text, reason_text, undecided_text

CURVE_ONLY = "A curve cannot show dirt, touched faces, draught or moisture (so ASTM F3124, scope, seen)."


def judgement_lines(judgement: Judgement, statements: Sequence[Statement] = ()) -> list[str]:
    """Render a judgement and what people said of the joint, about 100 columns wide."""
    lines = [f"Joint {judgement.joint or 'without a name'}"]
    note = ORIGIN_NOTES[judgement.origin]
    if note:
        lines.append(f"  {note}" + _scale_note(judgement))
    lines.append("Phases")
    lines += [_phase_line(span, judgement.plan) for span in judgement.phases]
    lines.append("Findings" if judgement.findings else "Findings: none")
    for finding in judgement.findings:
        lines += _wrapped(f"  {_severity(finding.severity)} {finding_text(finding)}", "         ")
    if judgement.reasons:
        lines.append("Could not be decided")
        explained = {one.code: undecided_text(one) for one in judgement.undecided}
        for code in judgement.reasons:
            lines += _wrapped(f"  {explained.get(code) or reason_text(code)}", "    ")
    if judgement.information:
        lines.append("To be known")
        lines += [f"  {information_text(code)}" for code in judgement.information]
    if judgement.measures is not None:
        lines += measures_lines(judgement.measures)
    if judgement.other_joints:
        lines.append(f"Other heating cycles in this curve: {len(judgement.other_joints)}")
    lines += verdict_lines(judgement, statements)
    return lines


def verdict_lines(judgement: Judgement, statements: Sequence[Statement] = ()) -> list[str]:
    """The three lines an inspector asks for; a missing one is said to be not done."""
    against = " (against unverified figures)" if judgement.unverified_limits else ""
    lines: list[str] = []
    for row in acceptance_rows(f"{VERDICT_NAMES[judgement.verdict]}{against}", statements):
        lines += _wrapped(f"{row.label:13}{row.value}", " " * 13)
    return [
        *lines,
        CURVE_ONLY,
        *_wrapped(f"Decision rule: {judgement.decision_rule}.", "  "),
        "Beadwatch advises and records; it does not certify.",
    ]


def _wrapped(text: str, rest: str) -> list[str]:
    return textwrap.wrap(text, COLUMNS, subsequent_indent=rest, break_long_words=False)


def _phase_line(span: PhaseSpan, plan: JointPlan | None) -> str:
    name = f"  {PHASE_NAMES[span.phase]:18}"
    begin = _missing(span.start.reason) if span.start.at_s is None else f"at {span.start.at_s:8.2f} s"
    if span.duration_s is None:
        measured = "" if span.start.at_s is None else f"  end {_missing(span.end.reason)}"
    else:
        u_s = ((span.start.u_s or 0.0) ** 2 + (span.end.u_s or 0.0) ** 2) ** 0.5
        measured = f"  {span.duration_s:8.2f} s ± {u_s:.2f}"
    return f"{name}{begin}{measured}".ljust(56) + _planned(span, plan)


def _planned(span: PhaseSpan, plan: JointPlan | None) -> str:
    if plan is None:
        return ""
    return "  plan " + " then ".join(duration_text(step.duration_s) for step in plan.steps_of(span.phase))


def _missing(reason: str) -> str:
    return f"not seen ({reason.replace('_', ' ')})"


def _severity(severity: Severity) -> str:
    return "FAULT " if severity is Severity.FAULT else "remark"


def _scale_note(judgement: Judgement) -> str:
    scaled = judgement.origin is Origin.SIMULATED and judgement.time_scale != 1.0
    return f", {judgement.time_scale:g} times real time" if scaled else ""


def joint_headings() -> Iterator[str]:
    """Column headings of the list of joints."""
    yield from ("joint", "attempt", "opened (UTC)", "verdict of curve", "ended", "origin", "id")
