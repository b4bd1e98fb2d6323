"""What the typing of a joint comes to, as the screen gets it."""

from logger.daemon.typed_entry import Typed
from logger.domain.decidable import DecidableLimit
from logger.errors import ProcedureRefusal
from logger.wire.entry import DecidableModel, NextAttempt, PlanAnswer, RefusalModel
from logger.wire.plan import plan_model
from logger.wording.refusals import refusal_text


def plan_answer_of(found: Typed, attempt: NextAttempt | None) -> PlanAnswer:
    return PlanAnswer(
        plan=None if found.plan is None else plan_model(found.plan),
        missing=found.missing,
        errors=found.errors,
        refusals=() if found.refusal is None else (_refusal(found.refusal),),
        decidable=tuple(_decidable(limit) for limit in found.decidable),
        attempt=attempt,
    )


def _refusal(refusal: ProcedureRefusal) -> RefusalModel:
    return RefusalModel(code=refusal.code, parameters=dict(refusal.parameters), message=refusal_text(refusal))


def _decidable(limit: DecidableLimit) -> DecidableModel:
    return DecidableModel(
        phase=limit.phase,
        step=limit.step,
        quantity=limit.quantity,
        unit=limit.unit,
        room=limit.room,
        guard=limit.guard,
        is_decided=limit.is_decided,
        smallest_diameter_mm=limit.smallest_diameter_mm,
    )
