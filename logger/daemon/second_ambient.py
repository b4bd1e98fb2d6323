"""Ambient temperature taken again: the cooling time planned, the one for the new reading, and the longer."""

from dataclasses import replace
from typing import TypedDict

from logger.config.folders import procedure_folders
from logger.config.procedures import available_procedures
from logger.daemon.open_record import OpenRecord
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.plan.compute import compute_plan


class CoolingTimes(TypedDict):
    planned_cooling_s: float | None
    read_cooling_s: float | None
    governing_cooling_s: float | None


def cooling_answer(record: OpenRecord, ambient_degC: float) -> CoolingTimes:
    """Compute them. Raises ProcedureRefusal when the procedure does not cover this temperature."""
    plan = record.session.setting.plan
    if plan is None or record.planned is None:
        return CoolingTimes(planned_cooling_s=None, read_cooling_s=None, governing_cooling_s=None)
    joint = replace(record.planned.joint, ambient_temperature_degC=ambient_degC)
    read = compute_plan(joint, available_procedures(procedure_folders())[joint.procedure])
    planned_s, read_s = cooling_s(plan), cooling_s(read)
    known = [time_s for time_s in (planned_s, read_s) if time_s is not None]
    return CoolingTimes(
        planned_cooling_s=planned_s, read_cooling_s=read_s, governing_cooling_s=max(known, default=None)
    )


def cooling_s(plan: JointPlan) -> float | None:
    """Least cooling time over all its steps, None where the procedure is silent on one."""
    least = [step.duration_s.min for step in plan.steps_of(Phase.COOLING)]
    return None if None in least else sum(time_s for time_s in least if time_s is not None)
