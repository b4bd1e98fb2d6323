"""Samples and plan to judgement: the function that live, stored and imported curves all go through."""

from collections.abc import Callable, Iterable
from dataclasses import replace

from logger.domain.band import Band
from logger.domain.channel import Quantity
from logger.domain.joint_plan import JointPlan
from logger.domain.judgement import (
    Boundary,
    Finding,
    Judgement,
    PhaseSpan,
    Severity,
    Undecided,
    Verdict,
)
from logger.domain.phase import Phase
from logger.domain.plate_known import NOTHING_KNOWN, PlateKnown
from logger.domain.rig import GaugeSide, Origin, Rig
from logger.domain.sample import Sample
from logger.domain.source import Mark
from logger.judge import connection, contact
from logger.judge.case import NOTHING, Outcome
from logger.judge.decision import DECISION_RULE
from logger.judge.doubts import doubt, doubts_of
from logger.judge.drag_rule import drag, drag_measures
from logger.judge.duration_rules import (
    bead_up_duration,
    build_up_duration,
    changeover_duration,
    cooling_duration,
    heat_soak_duration,
)
from logger.judge.hand_readings import READ_BY_HAND, readings_of
from logger.judge.heat_rule import plate_heat_through
from logger.judge.measures import measures_of
from logger.judge.plate_rules import plate_temperature
from logger.judge.pressure_rules import (
    bead_up_pressure,
    build_up_overshoot,
    cooling_pressure,
    heat_soak_pressure,
    missing_pressure,
)
from logger.judge.restart import restarted
from logger.judge.windows import Curve
from logger.phases.detect import detect
from logger.phases.levels import hints_of

RULES: tuple[Callable[[Curve], Outcome], ...] = (
    drag,
    plate_temperature,
    plate_heat_through,
    bead_up_pressure,
    bead_up_duration,
    heat_soak_pressure,
    heat_soak_duration,
    changeover_duration,
    build_up_duration,
    build_up_overshoot,
    cooling_pressure,
    cooling_duration,
    missing_pressure,
    contact.contact,
    restarted,
)

PRESSURE_PLAIN = "pressure.uncertainty.not_declared"
PLATE_PLAIN = "plate.uncertainty.not_declared"


def judge(
    samples: Iterable[Sample],
    *,
    joint: str | None,
    plan: JointPlan | None,
    rig: Rig | None = None,
    origin: Origin = Origin.IMPORTED_FILE,
    plate_known: PlateKnown = NOTHING_KNOWN,
) -> Judgement:
    """Judge one curve. The same samples and plan give the same judgement, to the byte, wherever it runs."""
    hints = hints_of(plan, rig)
    detection = detect(samples, hints, rig.gauge_side if rig else GaugeSide.UNKNOWN)
    case = None
    if plan is not None and detection.cycle is not None:
        case = Curve(plan=plan, detection=detection, rig=rig, plate_known=plate_known)
    outcome = _outcome(case, has_plan=plan is not None)
    undecided = _once(outcome.undecided)
    verdict = _verdict(outcome)
    return Judgement(
        joint=joint,
        verdict=verdict,
        reasons=tuple(one.code for one in undecided),
        decision_rule=DECISION_RULE,
        plan=plan,
        phases=detection.spans if case is None else _spans(case),
        findings=tuple(sorted(outcome.findings, key=_when)),
        other_joints=detection.others,
        origin=origin,
        drag_detected_bar=drag_measures(detection, None).detected_bar,
        unverified_limits=plan is not None and _rests_on_memory(plan),
        undecided=undecided,
        information=() if case is None else _information(case, outcome, verdict),
        measures=None if case is None else measures_of(case),
    )


def _spans(case: Curve) -> tuple[PhaseSpan, ...]:
    """The phases as found; where the gauge may have been shut off, nobody saw cooling end."""
    *before, cooling = case.detection.spans
    if connection.lost_connection(case):
        cooling = replace(cooling, end=Boundary(reason="not_connected"))
    return (*before, cooling)


def _outcome(case: Curve | None, *, has_plan: bool) -> Outcome:
    if case is None:
        return Outcome(undecided=(doubt("no_heating_cycle" if has_plan else "no_plan"),))
    outcome = NOTHING
    if not case.step(Phase.COOLING).gauge_pressure_bar.is_given:
        outcome += Outcome(undecided=(doubt("gauge_pressure_not_planned"),))
    for rule in RULES:
        outcome += rule(case)
    return outcome + Outcome(undecided=doubts_of(outcome.weighed, case.pressure.interval_s))


def _verdict(outcome: Outcome) -> Verdict:
    if any(finding.severity is Severity.FAULT for finding in outcome.findings):
        return Verdict.NONCONFORMING
    return Verdict.UNDECIDED if outcome.undecided else Verdict.CONFORMING


def _once(undecided: tuple[Undecided, ...]) -> tuple[Undecided, ...]:
    """Each code once, as it came first."""
    first: dict[str, Undecided] = {}
    for one in undecided:
        first.setdefault(one.code, one)
    return tuple(first.values())


def _information(case: Curve, outcome: Outcome, verdict: Verdict) -> tuple[str, ...]:
    """What a reader should know and no verdict rests on."""
    codes = {finding.code for finding in outcome.findings}
    told = [
        code
        for code, quantity, band in (
            (PRESSURE_PLAIN, Quantity.PRESSURE, case.step(Phase.COOLING).gauge_pressure_bar),
            (PLATE_PLAIN, Quantity.PLATE_TEMPERATURE, case.plan.plate_temperature_degC),
        )
        if band.is_given and not case.declares(quantity)
    ]
    contact_s = case.span(Phase.BEAD_UP).start.at_s
    if contact_s is not None and readings_of(case, contact_s):
        told = [READ_BY_HAND if code == PLATE_PLAIN else code for code in told]
    if not contact.carriage_moves(case):
        told.append(contact.NOT_OBSERVED)
    if connection.is_undeclared(case, codes, verdict):
        told.append(connection.NOT_DECLARED)
    return tuple(told)


def _when(finding: Finding) -> tuple[float, str]:
    return (finding.start_s if finding.start_s is not None else 0.0, finding.code)


def _rests_on_memory(plan: JointPlan) -> bool:
    bands: list[Band] = [plan.plate_temperature_degC]
    for step in plan.steps:
        bands += [step.gauge_pressure_bar, step.duration_s]
    return any(band.is_given and band.source.mark is Mark.MEMORY for band in bands)
