"""What the interface needs of the recorder: three rooms of the daemon, seen from here."""

from typing import Protocol

from logger.domain.joint_query import JointQuery
from logger.wire.desk import (
    AmbientAnswer,
    AmbientCommand,
    BeadCommand,
    ChecklistMessage,
    ClampsOpenedCommand,
    DragCommand,
    MarkCommand,
    PlateReadingCommand,
    PreparationCommand,
    RemarkCommand,
    Said,
    SignOffCommand,
    StartBody,
    VisualCommand,
)
from logger.wire.entry import ChoicesMessage, JointEntry, PlanAnswer
from logger.wire.history import CurveMessage, HeadMessage, JointDetail, JointList
from logger.wire.live import Accepted, ClaimCommand, StateMessage
from logger.wire.plan import PlanModel
from logger.wire.stream import HelloMessage, SamplesMessage


class ViewPort(Protocol):
    """The recorder as viewers see it. Nothing here waits."""

    def hello(self) -> HelloMessage: ...

    def state(self, since_seq: int) -> StateMessage: ...

    def plan(self) -> PlanModel | None:
        """The plan that governs the open joint: the same object until another one does."""
        ...

    def sample_count(self) -> int:
        """How many samples the open joint has, 0 where none is open."""
        ...

    def samples(self, after_seq: int, limit: int) -> SamplesMessage | None:
        """At most `limit` samples of the open joint after that number, None where none is open."""
        ...


class DeskPort(Protocol):
    """What people do and say. Raises BeadwatchError; then nothing was done."""

    async def plan_answer(self, entry: JointEntry) -> PlanAnswer: ...

    async def choices(self) -> ChoicesMessage: ...

    async def checklist(self) -> ChecklistMessage: ...

    async def start(self, body: StartBody) -> Accepted: ...

    async def abort(self, reason: str) -> Accepted: ...

    async def claim(self, command: ClaimCommand) -> Accepted: ...

    async def drag(self, command: DragCommand) -> Accepted: ...

    async def bead(self, command: BeadCommand) -> Accepted: ...

    async def preparation(self, command: PreparationCommand) -> Said: ...

    async def ambient(self, command: AmbientCommand) -> AmbientAnswer: ...

    async def plate_reading(self, command: PlateReadingCommand) -> Said: ...

    async def mark(self, command: MarkCommand) -> Said: ...

    async def clamps_opened(self, command: ClampsOpenedCommand) -> Said: ...

    async def visual(self, joint_uuid: str, command: VisualCommand) -> Said: ...

    async def remark(self, joint_uuid: str, command: RemarkCommand) -> Said: ...

    async def sign_off(self, joint_uuid: str, command: SignOffCommand) -> Said: ...


class ArchivePort(Protocol):
    """The record, read only. Raises InputError for a joint that is not in it."""

    async def joints(self, query: JointQuery) -> JointList: ...

    async def joint(self, joint_uuid: str) -> JointDetail: ...

    async def curve(self, joint_uuid: str, points: int | None) -> CurveMessage: ...

    async def sealed(self, joint_uuid: str) -> str:
        """The file of a sealed joint, as a bundle carries it. Raises StoreError while the joint is open."""
        ...

    async def head(self) -> HeadMessage:
        """The head of the record's chain."""
        ...

    async def judgement(self, joint_uuid: str) -> str:
        """The stored judgement byte for byte; `null` where there is none."""
        ...
