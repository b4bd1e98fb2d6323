"""A recorder that does nothing by itself: the interface is tried against what the test tells it."""

from typing import Any

from logger.domain.joint_query import JointQuery
from logger.errors import InputError, StoreError
from logger.wire.desk import AmbientAnswer, ChecklistMessage, Said
from logger.wire.entry import ChoicesMessage, JointEntry, PlanAnswer
from logger.wire.history import CurveMessage, HeadMessage, JointDetail, JointList
from logger.wire.live import Accepted, EventMessage, StateMessage, StoreMessage
from logger.wire.plan import PlanModel, plan_model
from logger.wire.stream import HelloMessage, SamplesMessage
from tests.unit.wire.documents import PLAN

UUID = "8c1d2c56-0d1f-4f0f-9d6a-000000000001"


def run_of(joint_uuid: str, first_seq: int, count: int) -> SamplesMessage:
    """Samples whose pressure is their number."""
    numbers = range(first_seq, first_seq + count)
    return SamplesMessage(
        joint_uuid=joint_uuid,
        first_seq=first_seq,
        t_s=tuple(number / 10 for number in numbers),
        pressure_bar=tuple(float(number) for number in numbers),
        plate_temperature_degC=(None,) * count,
        carriage_mm=(None,) * count,
        plate_in=(None,) * count,
    )


class FakeView:
    def __init__(self) -> None:
        self.joint_uuid: str | None = UUID
        self.count = 0
        self.events: list[EventMessage] = []
        self.model: PlanModel | None = plan_model(PLAN)

    def hello(self) -> HelloMessage:
        return HelloMessage(software="0", rig="rig-7", origin="simulated", time_scale=1.0)

    def state(self, since_seq: int) -> StateMessage:
        return StateMessage(
            software="0", rig="rig-7", origin="simulated", time_scale=1.0, joint="A-1",
            joint_uuid=self.joint_uuid, attempt=1, phase=None, phase_since_s=None, now_s=self.count / 10,
            channels=(), store=StoreMessage(error="", pending=0, dropped=0),
            events=tuple(event for event in self.events if event.seq > since_seq),
            last_joint=None, last_joint_uuid=None, last_verdict=None,
        )  # fmt: skip

    def plan(self) -> PlanModel | None:
        return self.model if self.joint_uuid else None

    def sample_count(self) -> int:
        return self.count if self.joint_uuid else 0

    def samples(self, after_seq: int, limit: int) -> SamplesMessage | None:
        if self.joint_uuid is None:
            return None
        return run_of(self.joint_uuid, after_seq + 1, max(0, min(limit, self.count - after_seq)))

    def happen(self, code: str) -> None:
        self.events.append(EventMessage(seq=len(self.events) + 1, at_s=0.0, code=code, text=code))


class FakeDesk:
    """Accepts everything and remembers it; `error` is raised instead when there is one."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, Any]] = []
        self.error: Exception | None = None

    def _hear(self, name: str, *told: Any) -> None:
        if self.error is not None:
            raise self.error
        self.heard.append((name, told[0] if len(told) == 1 else told))

    async def plan_answer(self, entry: JointEntry) -> PlanAnswer:
        self._hear("plan", entry)
        return PlanAnswer(plan=None, missing=("joint",), errors=(), refusals=(), decidable=(), attempt=None)

    async def choices(self) -> ChoicesMessage:
        return ChoicesMessage(
            materials=(), procedures=(), sizes=(), wall_rules=(), kinds=(), options=(), operators=(),
            projects=(), last=None,
        )  # fmt: skip

    async def checklist(self) -> ChecklistMessage:

        return ChecklistMessage(joint_uuid=None, checks=())

    async def start(self, body: Any) -> Accepted:
        self._hear("start", body)
        return Accepted(joint_uuid=UUID, attempt=1)

    async def abort(self, reason: str) -> Accepted:
        self._hear("abort", reason)
        return Accepted(joint_uuid=UUID, attempt=1)

    async def ambient(self, command: Any) -> AmbientAnswer:
        self._hear("ambient", command)
        return AmbientAnswer(
            joint_uuid=UUID, seq=1, planned_cooling_s=1.0, read_cooling_s=2.0, governing_cooling_s=2.0
        )

    def __getattr__(self, name: str) -> Any:
        async def answer(*told: Any) -> Any:
            self._hear(name, *told)
            if name in ("claim", "drag", "bead"):
                return Accepted(joint_uuid=UUID, attempt=1)
            return Said(joint_uuid=UUID, seq=len(self.heard))

        return answer


class FakeArchive:
    def __init__(self) -> None:
        self.queries: list[JointQuery] = []

    async def joints(self, query: JointQuery) -> JointList:
        self.queries.append(query)
        return JointList(joints=(), is_more=False)

    async def joint(self, joint_uuid: str) -> JointDetail:
        raise InputError(f"joint {joint_uuid} is not in the record")

    async def curve(self, joint_uuid: str, points: int | None) -> CurveMessage:
        return CurveMessage(is_thinned=points is not None, sample_count=3, samples=run_of(joint_uuid, 1, 3))

    async def sealed(self, joint_uuid: str) -> str:
        raise StoreError(f"joint {joint_uuid} is still open")

    async def head(self) -> HeadMessage:
        return HeadMessage(head=None, utc=None)

    async def judgement(self, joint_uuid: str) -> str:
        return '{"schema":"beadwatch.judgement/1"}\n'
