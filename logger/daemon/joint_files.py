"""From the texts of rig and joint files to what a joint is recorded and judged against, new or resumed."""

import json
from dataclasses import asdict, dataclass

from logger.config.joint_file import joint_of, with_rig
from logger.config.procedures import load_procedure
from logger.config.rig_file import rig_of
from logger.domain.bus import Installation
from logger.domain.joint import Joint
from logger.domain.joint_plan import JointPlan
from logger.domain.record import JointRecord
from logger.domain.rig import Rig
from logger.plan.compute import compute_plan
from logger.session.state import Setting
from logger.wire.plan import plan_from_json


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedJoint:
    """A joint file read, its plan computed."""

    text: str
    joint: Joint
    plan: JointPlan


def planned_joint(text: str, file: str, rig: Rig | None) -> PlannedJoint:
    """Read and plan a joint file. Raises InputError or ProcedureRefusal."""
    joint = joint_of(text, file)
    if rig is not None:
        joint = with_rig(joint, rig)
    return PlannedJoint(text=text, joint=joint, plan=compute_plan(joint, load_procedure(joint.procedure)))


def rig_json(installation: Installation) -> str:
    """The rig in canonical form, format 1, as the record keeps it."""
    rig = {"format": 1, "rig": asdict(installation.rig)}
    return json.dumps(rig, ensure_ascii=False, sort_keys=True, allow_nan=False)


def setting_of(record: JointRecord) -> Setting:
    """What a stored joint was recorded against, from the record alone."""
    header = record.header
    rig = rig_of(header.rig_toml, f"rig of joint {record.number or header.uuid}").rig
    return Setting(
        joint=record.number,
        plan=None if header.plan_json is None else plan_from_json(header.plan_json),
        rig=rig,
        origin=header.origin,
        time_scale=header.time_scale,
    )
