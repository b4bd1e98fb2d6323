"""Ambient temperature taken again: the longer of the planned cooling and the one for this reading governs."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from logger.config.folders import procedure_folders
from logger.config.procedures import available_procedures
from logger.daemon.open_record import OpenRecord
from logger.domain.joint_plan import JointPlan, Notice
from logger.domain.notices import RemarkCode
from logger.domain.phase import Phase
from logger.plan.compute import compute_plan


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondAmbient:
    """The cooling times; `plan` is the one with the longer cooling, None where the plan stays as it is."""

    ambient_degC: float
    planned_s: float | None = None
    read_s: float | None = None
    plan: JointPlan | None = None

    @property
    def cooling_times(self) -> Mapping[str, float | None]:
        known = [time_s for time_s in (self.planned_s, self.read_s) if time_s is not None]
        return {
            "planned_cooling_s": self.planned_s,
            "read_cooling_s": self.read_s,
            "governing_cooling_s": max(known, default=None),
        }

    def govern(self, record: OpenRecord) -> None:
        """Let the longer cooling govern the open joint from here on."""
        if self.plan is None or record.planned is None:
            return
        joint = replace(record.planned.joint, ambient_temperature_degC=self.ambient_degC)
        record.planned = replace(record.planned, joint=joint, plan=self.plan)
        setting = replace(record.session.setting, plan=self.plan)
        record.session = replace(record.session, setting=setting)


def second_ambient(record: OpenRecord, ambient_degC: float) -> SecondAmbient:
    """Compute it for the open joint. Raises ProcedureRefusal where the procedure does not go so far."""
    plan, planned = record.session.setting.plan, record.planned
    if plan is None or planned is None:
        return SecondAmbient(ambient_degC=ambient_degC)
    joint = replace(planned.joint, ambient_temperature_degC=ambient_degC)
    read = compute_plan(joint, available_procedures(procedure_folders())[joint.procedure])
    planned_s, read_s = cooling_s(plan), cooling_s(read)
    is_longer = planned_s is not None and read_s is not None and read_s > planned_s
    return SecondAmbient(
        ambient_degC=ambient_degC,
        planned_s=planned_s,
        read_s=read_s,
        plan=_with_cooling_of(plan, read, ambient_degC) if is_longer else None,
    )


def cooling_s(plan: JointPlan) -> float | None:
    """Least cooling time over all its steps, None where the procedure is silent on one."""
    least = [step.duration_s.min for step in plan.steps_of(Phase.COOLING)]
    return None if None in least else sum(time_s for time_s in least if time_s is not None)


def _with_cooling_of(plan: JointPlan, read: JointPlan, ambient_degC: float) -> JointPlan:
    """Change nothing but the times of cooling: what is behind is judged as it was planned."""
    times = iter(read.steps_of(Phase.COOLING))
    steps = tuple(
        replace(step, duration_s=next(times).duration_s) if step.phase is Phase.COOLING else step
        for step in plan.steps
    )
    remark = Notice(code=RemarkCode.COOLING_BY_AMBIENT, parameters={"ambient_degC": ambient_degC})
    return replace(plan, steps=steps, cooling_ends=read.cooling_ends, remarks=(*plan.remarks, remark))
