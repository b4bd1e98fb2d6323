"""The preparation of the open joint as viewers see it: items, limits, and what was said of each."""

from collections.abc import Mapping, Sequence

from logger.daemon.archive import statement_model
from logger.domain.checklist import CHECKLIST, Check
from logger.domain.joint_plan import JointPlan
from logger.domain.procedure import PreparationLimit
from logger.domain.record import Statement
from logger.domain.source import Mark
from logger.wire.desk import ChecklistMessage, CheckModel
from logger.wire.plan import band_model
from logger.wording.checklist_text import CHECK_TEXTS
from logger.wording.plan_text import band_text

PREPARATION = "preparation"


def checklist_of(
    joint_uuid: str | None, plan: JointPlan | None, statements: Sequence[Statement]
) -> ChecklistMessage:
    """Build the list; without a plan the items stand without their limits."""
    said = {str(one.body.get("item")): one for one in statements if one.kind == PREPARATION}
    limits = {limit.code: limit for limit in plan.preparation} if plan else {}
    wanted = [check for check in CHECKLIST if not check.only_if_planned or check.limit in limits]
    return ChecklistMessage(
        joint_uuid=joint_uuid,
        checks=tuple(
            _check(check, limits.get(check.limit) if check.limit else None, said) for check in wanted
        ),
    )


def _check(check: Check, limit: PreparationLimit | None, said: Mapping[str, Statement]) -> CheckModel:
    band = limit.limit_mm if limit and limit.limit_mm.is_given else None
    statement = said.get(check.code)
    text = "no limit given" if band is None else band_text(band, "mm", float, 1)
    return CheckModel(
        item=check.code,
        text=CHECK_TEXTS[check.code].format(limit=text),
        unit=check.unit,
        limit=None if band is None else band_model(band),
        source=limit.source.text if limit else "",
        mark=limit.source.mark if limit else Mark.PRACTICE,
        cautions=check.cautions,
        said=None if statement is None else statement_model(statement),
    )
