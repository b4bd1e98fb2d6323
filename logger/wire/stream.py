"""What a viewer hears: hello, one snapshot, then updates; version 1 of the live link.

A viewer keeps the samples of one joint by number. `first_seq` says where a run of samples begins; when it is
not the one after the viewer's last, the hole is asked for with `GET /v1/curve?since_seq=LAST`.
"""

from typing import Annotated, Literal

from pydantic import Field

from logger.wire.live import StateMessage
from logger.wire.model import WireMessage, WireModel
from logger.wire.plan import PlanModel

API_VERSION = 1


class HelloMessage(WireMessage):
    """Who answers; the first message of every link. `api` is the version of the routes."""

    schema_: Literal["beadwatch.hello/1"] = Field(default="beadwatch.hello/1", alias="schema")
    api: int = API_VERSION
    software: str
    rig: str
    origin: str
    time_scale: float


class SamplesMessage(WireModel):
    """Polls of one joint in columns of equal length, numbered from `first_seq`, 1 being the joint's first.

    Null where a poll brought no usable reading of that channel; nothing is filled in.
    """

    joint_uuid: str
    first_seq: int
    t_s: tuple[float, ...]
    pressure_bar: tuple[float | None, ...]
    plate_temperature_degC: tuple[float | None, ...]
    carriage_mm: tuple[float | None, ...]
    plate_in: tuple[bool | None, ...]


class SnapshotMessage(WireMessage):
    """All that is needed to begin: sent after hello, and again when another joint or another plan governs.

    `plan` is null where no joint is open or it has no name. `samples` begin after the number the viewer asked
    for, or after those that it has been sent; null where no joint is open.
    """

    schema_: Literal["beadwatch.snapshot/1"] = Field(default="beadwatch.snapshot/1", alias="schema")
    state: StateMessage
    plan: PlanModel | None
    samples: SamplesMessage | None


class UpdateMessage(WireMessage):
    """What is new: the state with the events since the last message, and the new samples.

    `skipped` counts samples that this viewer was too slow for: they are left out here and can be asked for.
    """

    schema_: Literal["beadwatch.update/1"] = Field(default="beadwatch.update/1", alias="schema")
    state: StateMessage
    samples: SamplesMessage | None
    skipped: int = 0


LiveMessage = Annotated[HelloMessage | SnapshotMessage | UpdateMessage, Field(discriminator="schema_")]
