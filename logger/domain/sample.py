"""What one poll brought, in the form in which it is stored, advanced and judged."""

from dataclasses import dataclass

from logger.domain.channel import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class RawReading:
    """One channel's part of a poll: the raw integer as it came off the wire."""

    quantity: Quantity
    raw: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RawSample:
    """One poll in its stored form.

    `t_ms` is on the record's own clock (monotonic, whole milliseconds; middle of request and answer),
    `half_width_ms` half the time between request and answer. Times strictly increase within a channel;
    a channel that was not read is absent: a gap stays a gap.
    """

    t_ms: int
    half_width_ms: int
    readings: tuple[RawReading, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """The same poll in engineering units; None where a channel has no usable reading at this time."""

    t_s: float
    pressure_bar: float | None = None
    plate_temperature_degC: float | None = None
    carriage_mm: float | None = None
    plate_in: bool | None = None
