"""A recorder that says what a test tells it to, and remembers what it was told."""

import asyncio
from collections.abc import AsyncIterator
from dataclasses import replace
from functools import cache

from pydantic import BaseModel

from logger.config.joint_file import load_joint
from logger.config.procedures import load_procedure
from logger.domain.joint_plan import JointPlan
from logger.errors import DeviceError
from logger.plan.compute import compute_plan
from logger.wire.live import ChannelMessage, EventMessage, StateMessage, StoreMessage
from logger.wire.plan import plan_model
from logger.wire.stream import SamplesMessage, SnapshotMessage, UpdateMessage
from tests.system.processes import JOINT_FILE

UUID = "00000000-0000-4000-8000-000000000117"
PISTON_MM2 = 629.0


@cache
def plan() -> JointPlan:
    """The plan of the demonstration's joint on its rig."""
    joint = replace(load_joint(JOINT_FILE), piston_area_mm2=PISTON_MM2)
    return compute_plan(joint, load_procedure(joint.procedure))


def channel(quantity: str, value: float | None, unit: str, state: str = "present") -> ChannelMessage:
    return ChannelMessage(quantity=quantity, state=state, value=value, unit=unit, age_s=0.05)


def state(
    phase: str | None = None, since_s: float = 0.0, now_s: float = 0.0, **changes: object
) -> StateMessage:
    pressure = changes.pop("pressure_bar", 10.5)
    plate = changes.pop("plate_degC", 220.0)
    values: dict[str, object] = {
        "software": "0.0",
        "rig": "rig 3",
        "origin": "live",
        "time_scale": 1.0,
        "joint": "K-117",
        "joint_uuid": UUID,
        "attempt": 1,
        "phase": phase,
        "phase_since_s": since_s if phase else None,
        "now_s": now_s,
        "channels": (channel("pressure", pressure, "bar"), channel("plate_temperature", plate, "degC")),
        "store": StoreMessage(error="", pending=0, dropped=0),
        "events": (),
        "last_joint": None,
        "last_joint_uuid": None,
        "last_verdict": None,
    }
    return StateMessage(**{**values, **changes})


def event(seq: int, at_s: float, code: str) -> EventMessage:
    return EventMessage(seq=seq, at_s=at_s, code=code, text=code)


def samples(
    first_seq: int, t_s: list[float], pressure: list[float | None], plate: list[float | None]
) -> SamplesMessage:
    count = len(t_s)
    return SamplesMessage(
        joint_uuid=UUID,
        first_seq=first_seq,
        t_s=tuple(t_s),
        pressure_bar=tuple(pressure),
        plate_temperature_degC=tuple(plate),
        carriage_mm=(None,) * count,
        plate_in=(None,) * count,
    )


def snapshot(
    now: StateMessage, run: SamplesMessage | None = None, *, planned: bool = True
) -> SnapshotMessage:
    return SnapshotMessage(state=now, plan=plan_model(plan()) if planned else None, samples=run)


def update(now: StateMessage, run: SamplesMessage | None = None) -> UpdateMessage:
    return UpdateMessage(state=now, samples=run)


class FakeLink:
    """Plays the part of `RecorderLink`. `answers` holds what is answered to a path, an error is raised."""

    def __init__(self, *messages: object) -> None:
        self._queue: asyncio.Queue[object] = asyncio.Queue()
        self.posted: list[tuple[str, BaseModel | None]] = []
        self.answers: dict[str, object] = {}
        for message in messages:
            self._queue.put_nowait(message)

    def tell(self, message: object) -> None:
        self._queue.put_nowait(message)

    async def arrivals(self) -> AsyncIterator[object]:
        while True:
            yield await self._queue.get()

    async def get(self, model: type[BaseModel], path: str) -> BaseModel:
        return self._answer(path)

    async def post(self, model: type[BaseModel], path: str, body: BaseModel | None = None) -> BaseModel:
        self.posted.append((path, body))
        return self._answer(path)

    async def close(self) -> None:
        """Nothing is open."""

    def _answer(self, path: str) -> BaseModel:
        answer = self.answers.get(path, DeviceError("no recorder answers"))
        if isinstance(answer, Exception):
            raise answer
        assert isinstance(answer, BaseModel)
        return answer
