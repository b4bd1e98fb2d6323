"""From the texts of rig and joint files to what a joint is recorded and judged against, new or resumed."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace

from logger.config.folders import procedure_folders
from logger.config.formula import nearest
from logger.config.joint_file import joint_of, with_rig
from logger.config.procedures import available_procedures
from logger.config.rig_file import recorded_rig_of
from logger.daemon.clock import MachineClock, boot_id
from logger.daemon.plate_watch import PLATE_HEAT, plate_heat_from
from logger.daemon.statements import governing_plan, hand_readings, latest
from logger.domain.bus import Installation
from logger.domain.joint import Joint
from logger.domain.joint_plan import JointPlan
from logger.domain.plate_known import PlateKnown
from logger.domain.record import Claim, JointHeader, JointRecord, Statement
from logger.domain.rig import Origin, Rig
from logger.errors import InputError
from logger.plan.compute import compute_plan
from logger.plan.rig_check import with_rig_remarks
from logger.session.state import Setting
from logger.wire.live import ClaimCommand
from logger.wire.plan import plan_to_json


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedJoint:
    """A joint file read, its plan computed."""

    text: str
    joint: Joint
    plan: JointPlan


def planned_joint(text: str, file: str, rig: Rig | None) -> PlannedJoint:
    """Read and plan a joint file. Raises InputError or ProcedureRefusal."""
    known = available_procedures(procedure_folders())
    joint = joint_of(text, file, known)
    if rig is not None:
        joint = with_rig(joint, rig)
    plan = compute_plan(joint, known[joint.procedure])
    return PlannedJoint(text=text, joint=joint, plan=plan if rig is None else with_rig_remarks(plan, rig))


def planned_again(planned: PlannedJoint | None, drag_bar: float, rig: Rig | None) -> PlannedJoint:
    """The same joint with the drag that was measured for it.

    Raises InputError when the procedure's file is another one by now, and what `planned_joint` raises.
    """
    if planned is None:
        raise InputError("this joint has no plan that a drag could govern")
    known = available_procedures(procedure_folders())
    procedure = known.get(planned.joint.procedure)
    if procedure is None or procedure.digest != planned.plan.procedure_digest:
        raise InputError(
            "has changed since the joint was opened: its plan stays as it is", file=planned.plan.procedure
        )
    joint = replace(planned.joint, drag_pressure_bar=drag_bar)
    plan = compute_plan(joint, procedure)
    return replace(planned, joint=joint, plan=plan if rig is None else with_rig_remarks(plan, rig))


def planned_under(
    record: JointRecord, plan: JointPlan | None, rig: Rig | None, procedure_id: str
) -> JointPlan:
    """The plan of a stored joint under another procedure, with the drag that governs it.

    Raises InputError for a joint without entry or a procedure that is not known, ProcedureRefusal where the
    procedure does not cover the joint.
    """
    text = record.header.joint_toml
    if text is None or plan is None:
        raise InputError(f"joint {record.number or record.header.uuid} has no entry to plan from")
    known = available_procedures(procedure_folders())
    if procedure_id not in known:
        hint = nearest(procedure_id, sorted(known))
        raise InputError(f'unknown procedure "{procedure_id}"{hint}', key="--procedure")
    joint = joint_of(text, "joint.toml", known)
    joint = replace(joint, procedure=procedure_id, drag_pressure_bar=plan.drag_pressure_bar)
    return compute_plan(joint if rig is None else with_rig(joint, rig), known[procedure_id])


def resumed_plan(record: JointRecord, plan: JointPlan | None, rig: Rig | None) -> PlannedJoint | None:
    """The joint as entered and the plan that governs it, from the record; None where it cannot be read."""
    text = record.header.joint_toml
    if text is None or plan is None:
        return None
    try:
        joint = joint_of(text, "joint.toml", available_procedures(procedure_folders()))
        joint = joint if rig is None else with_rig(joint, rig)
    except InputError:
        return None
    return PlannedJoint(text=text, joint=joint, plan=plan)


def claim_of(command: ClaimCommand, clock: MachineClock) -> Claim:
    """The claim as the record keeps it, stamped now."""
    return Claim(
        number=command.number,
        project=command.project,
        claimed_by=command.claimed_by,
        reason=command.reason,
        at=clock.stamp(),
    )


@dataclass(frozen=True, slots=True)
class Bench:
    """The rig as installed, the text that says so, and the clock."""

    installation: Installation
    rig_text: str
    clock: MachineClock

    @property
    def is_replay(self) -> bool:
        """A replay keeps the times of its file; everything else counts from the opening of the joint."""
        return self.installation.rig.origin is Origin.REPLAY


def setting_for(planned: PlannedJoint | None, bench: Bench) -> Setting:
    """What a joint that is opened now is recorded against; `planned` is None for one without a name."""
    rig = bench.installation.rig
    return Setting(
        joint=planned.joint.joint if planned else None,
        plan=planned.plan if planned else None,
        rig=rig,
        origin=rig.origin,
        time_scale=bench.clock.time_scale,
    )


def header_of(
    planned: PlannedJoint | None, bench: Bench, *, joint_uuid: str, opened_mono_ms: int
) -> JointHeader:
    """The header of a joint opened at `opened_mono_ms`; `planned` is None for a joint without a name."""
    joint = planned.joint if planned else None
    return JointHeader(
        uuid=joint_uuid,
        number=joint.joint if joint else None,
        project=joint.project if joint else "",
        operator=joint.operator if joint else "",
        rig_json=rig_json(bench.installation),
        rig_toml=bench.rig_text,
        joint_toml=planned.text if planned else None,
        procedure=joint.procedure if joint else None,
        plan_json=plan_to_json(planned.plan) if planned else None,
        origin=bench.installation.rig.origin,
        time_scale=bench.clock.time_scale,
        opened=replace(bench.clock.stamp(), mono_ms=opened_mono_ms),
        boot_id=boot_id(),
    )


def rig_json(installation: Installation) -> str:
    """The rig in canonical form, format 1, as the record keeps it."""
    rig = {"format": 1, "rig": asdict(installation.rig)}
    return json.dumps(rig, ensure_ascii=False, sort_keys=True, allow_nan=False)


def recorded_rig(record: JointRecord) -> Rig:
    """The rig that a stored joint was made on. Raises InputError when its text cannot be read any more."""
    return recorded_rig_of(record.header.rig_toml, f"rig of joint {record.number or record.header.uuid}").rig


def setting_of(record: JointRecord, statements: Iterable[Statement] = ()) -> Setting:
    """What a stored joint was recorded against, from the record alone; a drag confirmed later governs."""
    header, said = record.header, tuple(statements)
    plate = latest(PLATE_HEAT, said)
    return Setting(
        joint=record.number,
        plan=governing_plan(header.plan_json, said),
        rig=recorded_rig(record),
        origin=header.origin,
        time_scale=header.time_scale,
        plate_known=PlateKnown(
            hand_readings=hand_readings(said),
            before=None if plate is None else plate_heat_from(dict(plate.body)),
        ),
    )
