"""A judgement as lines of text: phases measured against plan, findings, verdict, what a curve cannot show."""

import textwrap
from collections.abc import Sequence

from logger.domain.joint_plan import JointPlan
from logger.domain.judgement import Judgement, PhaseSpan, Severity
from logger.domain.place_error import half_interval
from logger.domain.record import Statement
from logger.domain.rig import Origin
from logger.wording.acceptance import acceptance_rows
from logger.wording.events import ORIGIN_NOTES, PHASE_NAMES, VERDICT_NAMES
from logger.wording.figures_text import figures_text
from logger.wording.findings import finding_text
from logger.wording.hand_text import hand_lines
from logger.wording.language import say
from logger.wording.measures_text import measures_lines
from logger.wording.plan_text import COLUMNS, duration_text
from logger.wording.reasons import information_text, reason_text, undecided_text

CURVE_ONLY = "A curve cannot show dirt, touched faces, draught or moisture (so ASTM F3124, scope, seen)."


def judgement_lines(
    judgement: Judgement,
    statements: Sequence[Statement] = (),
    columns: int = COLUMNS,
    confirmations: Sequence[Statement] = (),
) -> list[str]:
    """Render a judgement and what people said of the joint, about so many columns wide."""
    lines = [say("Joint {joint}", joint=judgement.joint or say("without a name"))]
    note = ORIGIN_NOTES[judgement.origin]
    if note:
        lines.append(f"  {say(note)}" + _scale_note(judgement))
    lines.append(say("Phases"))
    for span in judgement.phases:
        lines += _phase_lines(span, judgement.plan, columns)
    by_hand = list(hand_lines(statements))
    if by_hand:
        lines.append(say("By hand, beside what was detected; a mark decides nothing"))
        for line in by_hand:
            lines += _wrapped(f"  {line}", "    ", columns)
    lines += _said_of_limits(judgement, columns)
    if judgement.measures is not None:
        for line in measures_lines(judgement.measures):
            lines += _wrapped(line, " " * 20, columns)
    if judgement.other_joints:
        count = len(judgement.other_joints)
        lines.append(say("Other heating cycles in this curve: {count}", count=count))
    lines += verdict_lines(judgement, statements, columns, confirmations)
    return lines


def _said_of_limits(judgement: Judgement, columns: int) -> list[str]:
    """Findings, what could not be decided, and what a reader should know."""
    lines = [say("Findings") if judgement.findings else say("Findings: none")]
    for finding in judgement.findings:
        severity = say("FAULT ") if finding.severity is Severity.FAULT else say("remark")
        lines += _wrapped(f"  {severity} {finding_text(finding)}", "         ", columns)
    if judgement.reasons:
        lines.append(say("Could not be decided"))
        explained = {one.code: undecided_text(one) for one in judgement.undecided}
        for code in judgement.reasons:
            lines += _wrapped(f"  {explained.get(code) or reason_text(code)}", "    ", columns)
    if judgement.information:
        lines.append(say("To be known"))
        for code in judgement.information:
            lines += _wrapped(f"  {information_text(code)}", "    ", columns)
    return lines


def verdict_lines(
    judgement: Judgement,
    statements: Sequence[Statement] = (),
    columns: int = COLUMNS,
    confirmations: Sequence[Statement] = (),
) -> list[str]:
    """The three lines an inspector asks for; a missing one is said to be not done."""
    figures = figures_text(judgement, confirmations)
    against = f" ({figures})" if figures else ""
    lines: list[str] = []
    for row in acceptance_rows(f"{say(VERDICT_NAMES[judgement.verdict])}{against}", statements):
        lines += _wrapped(f"{row.label:12} {row.value}", " " * 13, columns)
    rule = say("Decision rule: {rule}.", rule=say(judgement.decision_rule))
    return [
        *lines,
        *_wrapped(say(CURVE_ONLY), "  ", columns),
        *_wrapped(rule, "  ", columns),
        say("Beadwatch advises and records; it does not certify."),
    ]


def _wrapped(text: str, rest: str, columns: int) -> list[str]:
    return textwrap.wrap(text, columns, subsequent_indent=rest, break_long_words=False)


def _phase_lines(span: PhaseSpan, plan: JointPlan | None, columns: int) -> list[str]:
    """When it began, how long it was, what was planned; on two lines where one has no room for it."""
    name = f"  {say(PHASE_NAMES[span.phase]):17} "
    begin = _missing(span.start.reason)
    if span.start.at_s is not None:
        begin = say("at {at:8.2f} s", at=span.start.at_s)
    if span.duration_s is None:
        end = say("  end {missing}", missing=_missing(span.end.reason))
        measured = "" if span.start.at_s is None else end
    else:
        half_s = half_interval(span.start.u_s, span.end.u_s)
        measured = say("  {duration:8.2f} s ± {u:.2f}", duration=span.duration_s, u=half_s)
    seen, planned = f"{name}{begin}{measured}", _planned(span, plan)
    line = seen.ljust(56) + planned
    return (
        [line] if len(line) <= columns else [seen, *_wrapped(" " * 20 + planned.strip(), " " * 25, columns)]
    )


def _planned(span: PhaseSpan, plan: JointPlan | None) -> str:
    if plan is None:
        return ""
    times = say(" then ").join(duration_text(step.duration_s) for step in plan.steps_of(span.phase))
    return say("  plan {times}", times=times)


def _missing(reason: str) -> str:
    return say("not seen ({why})", why=say(reason.replace("_", " ")))


def _scale_note(judgement: Judgement) -> str:
    is_scaled = judgement.origin is Origin.SIMULATED and judgement.time_scale != 1.0
    return say(", {scale:g} times real time", scale=judgement.time_scale) if is_scaled else ""
