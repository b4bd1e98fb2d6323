"""The only reader of the machine's clocks."""

import asyncio
import time
from datetime import UTC, datetime
from pathlib import Path

from logger.domain.record import Stamp

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
_SYNCHRONISED = Path("/run/systemd/timesync/synchronized")


class MachineClock:
    """Monotonic time for durations, UTC for stamps.

    `time_scale` clock seconds pass in a real one; the monotonic clock goes on over a restart of the recorder,
    not over one of the machine.
    """

    def __init__(self, time_scale: float = 1.0) -> None:
        self.time_scale = time_scale

    def mono_s(self) -> float:
        return time.monotonic() * self.time_scale

    def utc(self) -> datetime:
        return datetime.now(UTC)

    def utc_text(self) -> str:
        """UTC as ISO 8601 with `Z`, to the millisecond."""
        return self.utc().isoformat(timespec="milliseconds").replace("+00:00", "Z")

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(seconds / self.time_scale)

    def stamp(self) -> Stamp:
        """Both clocks now; the UTC counts as verified when the system says that it was synchronised."""
        return Stamp(
            mono_ms=round(self.mono_s() * 1000),
            utc=self.utc_text(),
            utc_verified=_SYNCHRONISED.exists(),
        )


def boot_id() -> str:
    """Identity of this start of the machine; monotonic times are comparable within one."""
    try:
        return _BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        return "unknown"
