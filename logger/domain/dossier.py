"""Everything the record holds of one joint, read and scaled: what QA prints, exports and judges again."""

from dataclasses import dataclass

from logger.domain.joint import Joint
from logger.domain.judgement import Judgement
from logger.domain.record import JointRecord, RecordEvent, Statement
from logger.domain.rig import Rig
from logger.domain.sample import RawSample, Sample
from logger.domain.seal import ChainHead, JointSeal


@dataclass(frozen=True, slots=True, kw_only=True)
class Dossier:
    """`joint` is None for one that nobody announced, `judgement` while it is open.

    `samples` are `raws` scaled by `rig`, one for one. `statements` are in the order of the record. `head` is
    that of the record's chain when it was read. `confirmations` are the statements by which somebody vouched
    for the figures of the very procedure file that the joint was planned with.
    """

    record: JointRecord
    rig: Rig
    joint: Joint | None
    judgement: Judgement | None
    raws: tuple[RawSample, ...]
    samples: tuple[Sample, ...]
    events: tuple[RecordEvent, ...]
    statements: tuple[Statement, ...]
    seal: JointSeal
    head: ChainHead | None
    confirmations: tuple[Statement, ...] = ()
