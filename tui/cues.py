"""What the operator is told at one moment: figure, next action, cautions, keys. Pure.

Rules that hold here, because people act on what they read:

- Minimum times count from the late edge of the phase's start, maximum times from the early edge.
- What is not trusted has no figure: gauge and watch take its place.
- Bead-up ends by the bead seen all round; nothing here prompts the let-down before the operator has said so.
- Hands and path are cleared before the countdown. From the end of the soak until cooling there is no key.
- Past a limit of changeover or build-up there is no cue to hurry.
"""

import math

from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.judgement import Verdict
from logger.domain.phase import Phase
from logger.wording.events import VERDICT_NAMES
from logger.wording.units import Units
from tui.catalogue import caption, tr
from tui.glance import ABORT, BEAD, CLAMPS, Alarm, Cue, Moment, Trust
from tui.numbers import band_text, clock, gauge_with_unit, most_gauge, number, seconds

CLEAR_S = 20.0
"""Hands and path are cleared from here on (common practice, no source)."""
COUNTDOWN_S = 10.0
"""The countdown to the changeover begins here (common practice, no source)."""


def cue_of(moment: Moment) -> Cue:
    """Return what to show."""
    if moment.trust is not Trust.FULL:
        return _untrusted(moment)
    if moment.phase is None:
        return _around(moment)
    if moment.plan is None:
        return _unplanned(moment)
    step = moment.plan.step_of(moment.phase)
    match moment.phase:
        case Phase.BEAD_UP:
            return _bead_up(moment, step)
        case Phase.HEAT_SOAK:
            return _heat_soak(moment, step)
        case Phase.CHANGEOVER:
            return _hurried(moment, step, tr("Plate out. Close the ends."))
        case Phase.PRESSURE_BUILD_UP:
            return _hurried(moment, step, _build_up_text(moment, step))
        case Phase.COOLING:
            return _cooling(moment, moment.plan)


def _untrusted(moment: Moment) -> Cue:
    # Hands may be between the ends all the same: the quiet stretch stays quiet.
    quiet = moment.phase in (Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP)
    keys = (BEAD, ABORT) if moment.phase is Phase.BEAD_UP and not moment.is_bead_seen else ()
    return Cue(action=tr("Use the gauge and your watch."), keys=keys, is_quiet=quiet)


def _around(moment: Moment) -> Cue:
    """Before the plate, between joints, after the release."""
    if moment.is_released or moment.verdict:
        return Cue(action=_after_release(moment), cautions=(_hoses(), *_plan_ends(moment)), keys=(CLAMPS,))
    if not moment.is_joint_open:
        return Cue(action=tr("No joint is open."))
    cautions = (
        tr("Plate over 200 °C: gloves, nobody near its edge."),
        tr("Clamps close with tonnes of force: hands and clothing clear."),
    )
    if moment.plan is None:
        return Cue(action=tr("Prepare the joint."), cautions=cautions, keys=(ABORT,))
    target = moment.plan.step_of(Phase.BEAD_UP).gauge_pressure_bar
    if target.target is None:
        return Cue(
            action=tr("Measure the drag of this joint: no pressures without it."),
            cautions=cautions,
            keys=(ABORT,),
        )
    text = tr(
        "When all is prepared: plate in, press the ends on at {pressure}.",
        pressure=gauge_with_unit(target.target, moment.units),
    )
    return Cue(action=text, cautions=cautions, keys=(ABORT,))


def _unplanned(moment: Moment) -> Cue:
    return Cue(
        action=tr("No joint was entered: no limits are known. All is recorded."),
        figure=clock(max(moment.since_early_s, 0.0)),
        caption=caption("gone"),
        is_quiet=moment.phase in (Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP),
    )


def _bead_up(moment: Moment, step: PlanStep) -> Cue:
    if moment.is_bead_seen:
        limit = moment.plan.step_of(Phase.HEAT_SOAK).gauge_pressure_bar.max if moment.plan else None
        text = tr("Bead seen. Let the pressure down. Keep the ends on the plate.")
        if limit is not None:
            text = tr(
                "Bead seen. Let the pressure down to {pressure} or less. Keep the ends on the plate.",
                pressure=most_gauge(limit, moment.units),
            )
        gone = clock(max(moment.since_early_s, 0.0))
        return Cue(action=text, figure=gone, caption=caption("gone"), keys=(ABORT,))
    text = tr("Hold the pressure. Look at the bead all round both ends.")
    if step.bead_height_mm is not None:
        text = tr(
            "Hold the pressure. Look at the bead all round both ends: {height} mm.",
            height=number(step.bead_height_mm, 1),
        )
    least_s = step.duration_s.min if step.duration_s.min is not None else step.duration_s.target
    keys = (BEAD, ABORT)
    care = (tr("Plate over 200 °C: look, keep hands out."),)
    if least_s is None:
        gone = clock(max(moment.since_early_s, 0.0))
        return Cue(action=text, figure=gone, caption=caption("gone"), cautions=care, keys=keys)
    left_s = least_s - moment.since_late_s
    if left_s > 0:
        words = caption("left, then check the bead")
        return Cue(action=text, figure=_left(left_s), caption=words, cautions=care, keys=keys)
    text = tr("CHECK THE BEAD. {what}", what=text)
    return Cue(action=text, caption=caption("check bead"), cautions=care, keys=keys)


def _heat_soak(moment: Moment, step: PlanStep) -> Cue:
    hold = tr("Let it soak. Keep the ends on the plate.")
    if step.gauge_pressure_bar.max is not None:
        hold = tr(
            "Let it soak at {pressure} or less. Keep the ends on the plate.",
            pressure=most_gauge(step.gauge_pressure_bar.max, moment.units),
        )
    keys = (ABORT,)
    if step.duration_s.min is None:
        gone = clock(max(moment.since_early_s, 0.0))
        return Cue(action=hold, figure=gone, caption=caption("gone"), keys=keys)
    left_s = step.duration_s.min - moment.since_late_s
    if left_s > CLEAR_S:
        return Cue(action=hold, figure=_left(left_s), caption=caption("left"), keys=keys)
    clear = (tr("HANDS CLEAR of ends and clamps."), tr("PATH of the plate clear. Stand for it ready."))
    if left_s > 0:
        text = tr("Changeover is near. Hands clear, path clear.")
        if left_s <= COUNTDOWN_S:
            text = tr("Changeover next: open, plate out, close.")
        return Cue(
            action=text,
            figure=_left(left_s),
            caption=caption("left"),
            cautions=clear,
            alarm=Alarm.PREPARE,
            keys=keys,
        )
    text = tr("Soak time reached. Open, plate out, close.")
    return Cue(action=text, caption=caption("soak done"), cautions=clear, is_quiet=True)


def _hurried(moment: Moment, step: PlanStep, action: str) -> Cue:
    """Changeover and build-up: the time gone, and no word of hurry."""
    most_s = step.duration_s.max
    if moment.is_spoilt or (most_s is not None and moment.since_early_s > most_s):
        return Cue(action=spoilt_text(), is_quiet=True)
    words = caption("gone") if most_s is None else caption("gone, limit {limit}", limit=seconds(most_s, 1))
    return Cue(action=action, figure=clock(max(moment.since_early_s, 0.0)), caption=words, is_quiet=True)


def spoilt_text() -> str:
    return tr(
        "Limit passed. Keep clear, do not rush. The joint is to be cut out and made again.",
    )


def _build_up_text(moment: Moment, step: PlanStep) -> str:
    plan = moment.plan
    band = plan.step_of(Phase.COOLING).gauge_pressure_bar if plan else step.gauge_pressure_bar
    if band.target is None:
        return tr("Bring the pressure up evenly.")
    return tr(
        "Bring the pressure up evenly to {pressure}.", pressure=gauge_with_unit(band.target, moment.units)
    )


def _cooling(moment: Moment, plan: JointPlan) -> Cue:
    steps = plan.steps_of(Phase.COOLING)
    gone_s = moment.since_late_s
    if any(step.duration_s.min is None for step in steps):
        return Cue(
            action=_hold_text(steps[0], moment.units),
            figure=clock(max(moment.since_early_s, 0.0)),
            caption=caption("gone"),
            cautions=_still(moment),
            keys=(CLAMPS, ABORT),
        )
    for step in steps:
        least_s = step.duration_s.min or 0.0
        if gone_s < least_s:
            words = caption("left")
            if len(steps) > 1:
                words = caption("left, step {step} of {steps}", step=step.step, steps=len(steps))
            return Cue(
                action=_hold_text(step, moment.units),
                figure=_left(least_s - gone_s),
                caption=words,
                cautions=_still(moment),
                keys=(ABORT,),
            )
        gone_s -= least_s
    text = tr("Cooling time reached. Take the pressure off.")
    if moment.is_spoilt:
        text = spoilt_text()
    return Cue(
        action=text,
        caption=caption("cooling done"),
        cautions=(_hoses(), *_ends(plan)),
        alarm=Alarm.DONE,
        keys=(CLAMPS, ABORT),
    )


def _hold_text(step: PlanStep, units: Units) -> str:
    band = step.gauge_pressure_bar
    if band.max is not None:
        limits = f"{band_text(band.min, band.max, units)} {units.pressure}"
        return tr("Hold {limits}. Leave it clamped and still.", limits=limits)
    return tr("Hold the pressure. Leave it clamped and still.")


def _still(moment: Moment) -> tuple[str, ...]:
    first = spoilt_text() if moment.is_spoilt else tr("No water, no air to hasten cooling.")
    return (first, *_plan_ends(moment))


def _plan_ends(moment: Moment) -> tuple[str, ...]:
    return _ends(moment.plan) if moment.plan else ()


def _hoses() -> str:
    return tr("Relieve the pressure before touching a hose, a fitting or a clamp.")


def _ends(plan: JointPlan) -> tuple[str, ...]:
    """The ends of cooling after the pressure is off, as the procedure gives them."""
    lift = _end_text(plan, "before_rough_handling")
    test = _end_text(plan, "before_pressure_test")
    return (
        tr("Do not lift before: {time}", time=lift),
        tr("Do not pressure-test before: {time}", time=test),
    )


def _end_text(plan: JointPlan, kind: str) -> str:
    for end in plan.cooling_ends:
        if end.kind == kind and end.duration_s.min is not None:
            return tr("{time} without pressure", time=seconds(end.duration_s.min))
    return tr("not given")


def _after_release(moment: Moment) -> str:
    if moment.verdict:
        name = tr(VERDICT_NAMES[Verdict(moment.verdict)])
        return tr("Joint ended. Verdict of the recorded curve: {verdict}.", verdict=name)
    return spoilt_text() if moment.is_spoilt else tr("Pressure is off. The joint is not closed yet.")


def _left(left_s: float) -> str:
    return clock(math.ceil(left_s))
