"""What the running recorder says of itself, and what it can be told; version 1."""

from typing import Literal

from pydantic import Field

from logger.wire.model import WireModel


class ChannelMessage(WireModel):
    """One channel: its latest value in the unit of its name, and whether readings arrive."""

    quantity: str
    state: str
    value: float | None
    unit: str
    age_s: float | None


class EventMessage(WireModel):
    """Something that happened, numbered from 1 since the recorder started; `text` is for people."""

    seq: int
    at_s: float
    code: str
    text: str


class StoreMessage(WireModel):
    """The record on disk: `error` is empty while it is written; `pending` samples wait in memory."""

    error: str
    pending: int
    dropped: int


class StateMessage(WireModel):
    """The recorder at one instant. Times are seconds on the joint's own clock."""

    schema_: Literal["beadwatch.state/1"] = "beadwatch.state/1"
    software: str
    rig: str
    origin: str
    time_scale: float
    joint: str | None
    joint_uuid: str | None
    attempt: int | None
    phase: str | None
    phase_since_s: float | None
    now_s: float
    channels: tuple[ChannelMessage, ...]
    store: StoreMessage
    events: tuple[EventMessage, ...]
    last_joint: str | None
    last_joint_uuid: str | None
    last_verdict: str | None


class StartCommand(WireModel):
    """Open a joint: the text of a joint.toml."""

    joint_toml: str
    file: str = "joint.toml"


class AbortCommand(WireModel):
    """Break the open joint off, with the reason for the record."""

    reason: str


class ClaimCommand(WireModel):
    """Name a joint that was recorded without one: by whom, and why it had none."""

    joint_uuid: str
    number: str
    project: str = ""
    claimed_by: str
    reason: str


class Accepted(WireModel):
    """A command was carried out, on this joint."""

    joint_uuid: str
    attempt: int | None


class Refused(WireModel):
    """A command was not carried out: kind of error, one line of text, and `code` of a procedure's refusal."""

    error: str
    message: str
    code: str = ""
    parameters: dict[str, str | float] = Field(default_factory=dict)
