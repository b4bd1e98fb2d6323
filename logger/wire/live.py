"""What the running recorder says of itself, and what it can be told; version 1."""

from typing import Literal

from pydantic import Field

from logger.domain.source import Mark
from logger.wire.model import WireMessage, WireModel


class ChannelMessage(WireModel):
    """One channel: its latest value in the unit of its name, and whether readings arrive.

    `quality` is "good" or why the latest reading is not used ("loop_low", "stuck" ...); `value` is null then.
    """

    quantity: str
    state: str
    value: float | None
    unit: str
    age_s: float | None
    quality: str = "good"


class EventMessage(WireModel):
    """Something that happened, numbered from 1 since the recorder started.

    `text` says it in English; code and `parameters` say it in any language.
    """

    seq: int
    at_s: float
    code: str
    text: str
    parameters: dict[str, str | float] = Field(default_factory=dict)


class StoreMessage(WireModel):
    """The record on disk: `error` is empty while it is written; `pending` samples wait in memory."""

    error: str
    pending: int
    dropped: int


class LimitMessage(WireModel):
    """A planned time of the phase that is on, counted from one edge of its start's interval.

    A least time counts from the late edge, a greatest one from the early edge. `elapsed_s` and `remaining_s`
    (negative once past) are null while no figure may be followed. `then` says what the end of it means.
    """

    is_max: bool
    step: int | None
    limit_s: float
    from_s: float
    elapsed_s: float | None
    remaining_s: float | None
    then: str


class DragOfferMessage(WireModel):
    """The drag, gauge bar, that a slow steady closing stroke has shown: an offer for a person to confirm."""

    pressure_bar: float
    spread_bar: float
    breakaway_bar: float | None
    at_s: float
    is_closing_seen: bool


class AlarmMessage(WireModel):
    """Something that is wrong and stays so until somebody has looked after it; worded as an event is."""

    code: str
    text: str
    parameters: dict[str, str | float] = Field(default_factory=dict)


class HeatThroughMessage(WireModel):
    """How long the plate has been in its band since it was switched on, until the ends meet it.

    `heat` is "warming", "counting", "through", "not_observed" (its switch-on was not seen, `gone_s` is as
    far as it was seen) or "no_reading". `needed_s` is asked before work, with where that comes from.
    """

    heat: str
    gone_s: float | None
    needed_s: float
    source: str
    mark: Mark


class FaceMessage(WireModel):
    """One face of the plate: mean of its surface less the built-in sensor, greatest less least reading."""

    face: str
    offset_K: float
    spread_K: float


class SurfaceMessage(WireModel):
    """The plate's surface as it was read last with an instrument of its own, and when that is due again."""

    instrument: str
    measured_on: str
    age_days: int
    due: str
    due_source: str
    due_mark: Mark
    is_overdue: bool
    faces: tuple[FaceMessage, ...]


class HandSurfaceMessage(WireModel):
    """A reading of the surface by hand; `offset_K` is null where no sensor read then.

    Of this joint, or with `is_before_joint` of an earlier one: then it decides nothing here.
    """

    face: str
    instrument: str
    temperature_degC: float
    age_s: float
    offset_K: float | None
    is_before_joint: bool = False


class ForwardingMessage(WireModel):
    """How sending the curves to one server stands; `state` is a code, `reason` what the server said.

    `backlog` samples wait, the oldest of them `oldest_age_s` old; `parked` lines were put aside.
    """

    target: str
    state: str
    reason: str
    backlog: int
    oldest_age_s: float | None
    parked: int


class StateMessage(WireMessage):
    """The recorder at one instant. Times are seconds on the joint's own clock.

    `phase_since_s` lies between `phase_early_s` and `phase_late_s`. Where `unsure` holds a code no figure may
    be followed: gauge and watch take its place. `bead_by` is who saw the bead all round, null while nobody
    did; `drag_bar` the confirmed drag.
    """

    schema_: Literal["beadwatch.state/1"] = Field(default="beadwatch.state/1", alias="schema")
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
    phase_early_s: float | None = None
    phase_late_s: float | None = None
    phase_u_s: float | None = None
    unsure: str = ""
    limits: tuple[LimitMessage, ...] = ()
    bead_by: str | None = None
    bead_at_s: float | None = None
    drag_bar: float | None = None
    drag_offer: DragOfferMessage | None = None
    alarms: tuple[AlarmMessage, ...] = ()
    forwarding: tuple[ForwardingMessage, ...] = ()
    heat_through: HeatThroughMessage | None = None
    plate_surface: SurfaceMessage | None = None
    surface_by_hand: tuple[HandSurfaceMessage, ...] = ()


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


class FieldError(WireModel):
    """What is wrong with one field (`pipe.sdr`), and the nearest choices where there are some."""

    field: str
    message: str
    nearest: tuple[str, ...] = ()


class Refused(WireModel):
    """A command was not carried out: kind of error, one line of text, and `code` of a procedure's refusal.

    `fields` are the fields at fault where the command had any.
    """

    error: str
    message: str
    code: str = ""
    parameters: dict[str, str | float] = Field(default_factory=dict)
    fields: tuple[FieldError, ...] = ()
