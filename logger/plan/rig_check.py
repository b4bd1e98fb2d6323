"""Remarks on a plan that only the rig can raise: relief setting, gauge span, drag against fusion pressure.

The thresholds are common practice without a published source.
"""

from collections.abc import Iterator
from dataclasses import replace

from logger.domain.joint_plan import JointPlan, Notice
from logger.domain.notices import RemarkCode
from logger.domain.phase import Phase
from logger.domain.rig import Rig

DRAG_MULTIPLE = 2.0
SPAN_SHARE = 0.2
HIGH_DRAG_SHARE = 0.5


def with_rig_remarks(plan: JointPlan, rig: Rig) -> JointPlan:
    """Return the plan with what this rig adds to its remarks."""
    return replace(plan, remarks=(*plan.remarks, *_remarks(plan, rig)))


def _remarks(plan: JointPlan, rig: Rig) -> Iterator[Notice]:
    yield from _above_relief(plan, rig)
    joining_bar, drag_bar = plan.step_of(Phase.COOLING).gauge_pressure_bar.target, plan.drag_pressure_bar
    if joining_bar is None or drag_bar is None:
        return
    if joining_bar < DRAG_MULTIPLE * drag_bar:
        yield _notice(RemarkCode.UNDER_TWICE_DRAG, gauge_bar=joining_bar, drag_bar=drag_bar)
    if drag_bar > HIGH_DRAG_SHARE * (joining_bar - drag_bar):
        yield _notice(RemarkCode.DRAG_HIGH, drag_bar=drag_bar, fusion_bar=joining_bar - drag_bar)
    if rig.gauge_span_bar is not None and joining_bar < SPAN_SHARE * rig.gauge_span_bar:
        yield _notice(RemarkCode.UNDER_FIFTH_OF_SPAN, gauge_bar=joining_bar, span_bar=rig.gauge_span_bar)


def _above_relief(plan: JointPlan, rig: Rig) -> Iterator[Notice]:
    highest = max(
        (
            edge
            for step in plan.steps
            for edge in (step.gauge_pressure_bar.target, step.gauge_pressure_bar.max)
            if edge is not None
        ),
        default=None,
    )
    if highest is not None and rig.relief_pressure_bar is not None and highest > rig.relief_pressure_bar:
        yield _notice(RemarkCode.ABOVE_RELIEF, gauge_bar=highest, relief_bar=rig.relief_pressure_bar)


def _notice(code: RemarkCode, **parameters: float) -> Notice:
    return Notice(code=code, parameters=parameters)
