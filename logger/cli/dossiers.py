"""A joint read whole from the record, for everything that prints, exports or judges again."""

from collections.abc import Mapping
from functools import cache

from logger.config.folders import procedure_folders
from logger.config.joint_file import joint_of
from logger.config.procedures import available_procedures
from logger.daemon.joint_files import setting_of
from logger.domain.dossier import Dossier
from logger.domain.joint import Joint
from logger.domain.judgement import Judgement
from logger.domain.procedure import Procedure
from logger.domain.record import FIGURES, JointRecord, Statement
from logger.domain.rig import Rig
from logger.domain.scale import samples_of
from logger.errors import InputError
from logger.store.reader import Reader
from logger.wire.judgement import judgement_from_json


def dossier_of(reader: Reader, record: JointRecord, *, with_samples: bool = True) -> Dossier:
    """Read all that the record holds of this joint, or all but its samples.

    Raises InputError when its rig text cannot be read by this version.
    """
    uuid, text = record.header.uuid, record.judgement_text
    statements = reader.statements_of(uuid)
    rig = setting_of(record, statements).rig or Rig(name="not known")
    raws = tuple(reader.samples(uuid)) if with_samples else ()
    judgement = None if text is None else judgement_from_json(text)
    return Dossier(
        record=record,
        rig=rig,
        joint=_joint_of(record),
        judgement=judgement,
        raws=raws,
        samples=tuple(samples_of(raws, rig)),
        events=tuple(reader.events(uuid)),
        statements=tuple(statements),
        seal=reader.seal_of(uuid),
        head=reader.chain_head(),
        confirmations=confirmations_of(reader, judgement),
    )


def confirmations_of(reader: Reader, judgement: Judgement | None) -> tuple[Statement, ...]:
    """Return who vouched for the figures of the procedure file that this judgement's plan was made with."""
    digest = judgement.plan.procedure_digest if judgement and judgement.plan else ""
    return tuple(
        said
        for said in reader.statements_of(None)
        if said.kind == FIGURES and digest and said.body.get("digest") == digest
    )


def _joint_of(record: JointRecord) -> Joint | None:
    """None also where the procedure it names is no longer known here: the stored plan still says it all."""
    text = record.header.joint_toml
    if text is None:
        return None
    try:
        return joint_of(text, "joint.toml", _known())
    except InputError:
        return None


@cache
def _known() -> Mapping[str, Procedure]:
    """Read once: a command that reads a thousand joints reads the procedures it was started with."""
    return available_procedures(procedure_folders())
