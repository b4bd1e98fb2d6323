"""How much of a bus's time each request takes."""

from dataclasses import dataclass

from logger.domain.bus import Table


@dataclass(frozen=True, slots=True, kw_only=True)
class RequestLoad:
    """One request of a Modbus bus: `time_s` is the least it takes, None where no formula bounds it (TCP)."""

    unit_id: int
    table: Table
    address: int
    count: int
    rate_hz: float
    time_s: float | None

    @property
    def share(self) -> float:
        """Bus time in each second."""
        return self.rate_hz * (self.time_s or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BusLoad:
    """All requests of one bus, and in one line how a serial line is set."""

    bus: str
    form: str
    requests: tuple[RequestLoad, ...]

    @property
    def share(self) -> float:
        return sum(request.share for request in self.requests)

    @property
    def room_s(self) -> float:
        """Time that each request has left for the device to begin its answer, at the rates asked for."""
        asked_per_s = sum(request.rate_hz for request in self.requests)
        return (1.0 - self.share) / asked_per_s if asked_per_s else 0.0
