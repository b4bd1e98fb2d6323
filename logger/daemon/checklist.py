"""The preparation of the open joint as viewers see it: items, limits, and what was said of each."""

from collections.abc import Sequence
from dataclasses import replace

from logger.daemon.archive import statement_model
from logger.domain.band import Band
from logger.domain.checklist import CHECKLIST, Check, CheckCode
from logger.domain.joint_plan import JointPlan
from logger.domain.record import Statement
from logger.domain.source import Mark, Source
from logger.wire.desk import ChecklistMessage, CheckModel
from logger.wire.plan import band_model
from logger.wording.checklist_text import CHECK_TEXTS
from logger.wording.plan_text import band_text, duration_text

PREPARATION = "preparation"
_OF_PLAN = Source(mark=Mark.COMPUTED, text="the highest gauge pressure of the plan")


def checklist_of(
    joint_uuid: str | None, plan: JointPlan | None, statements: Sequence[Statement]
) -> ChecklistMessage:
    """Build the list; without a plan the items stand without their limits."""
    said = {str(one.body.get("item")): one for one in statements if one.kind == PREPARATION}
    bands = _bands(plan) if plan else {}
    planned = {limit.code for limit in plan.preparation} if plan else set()
    wanted = [check for check in CHECKLIST if not check.only_if_planned or check.limit in planned]
    return ChecklistMessage(
        joint_uuid=joint_uuid,
        checks=tuple(_check(check, bands.get(check.code), said.get(check.code)) for check in wanted),
    )


def _bands(plan: JointPlan) -> dict[CheckCode, Band]:
    """The limit of each item with its source; its edges are empty where the item is done or not."""
    own = {limit.code: limit for limit in plan.preparation}
    bands = {
        check.code: replace(own[check.limit].limit_mm, source=own[check.limit].source)
        for check in CHECKLIST
        if check.limit in own
    }
    highest = [band.target for band in (step.gauge_pressure_bar for step in plan.steps) if band.target]
    if highest:
        bands[CheckCode.SLIP_HOLD] = Band(target=max(highest), source=_OF_PLAN)
    bands[CheckCode.HEATER_CHECKED] = plan.plate_temperature_degC
    bands[CheckCode.HEATED_THROUGH] = plan.heat_through_s
    return bands


def _check(check: Check, band: Band | None, statement: Statement | None) -> CheckModel:
    text = "no limit given"
    if band and band.is_given:
        is_time = check.code is CheckCode.HEATED_THROUGH
        text = duration_text(band) if is_time else band_text(band, check.unit, float, 1)
    return CheckModel(
        item=check.code,
        text=CHECK_TEXTS[check.code].format(limit=text),
        unit=check.unit,
        limit=band_model(band) if band and band.is_given else None,
        source=band.source.text if band else "",
        mark=band.source.mark if band else Mark.PRACTICE,
        cautions=check.cautions,
        said=None if statement is None else statement_model(statement),
    )
