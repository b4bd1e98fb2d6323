"""What the recorder asks of a clock; the daemon has the only one that reads the machine's."""

from datetime import datetime
from typing import Protocol


class Clock(Protocol):
    """Monotonic seconds for durations, UTC for stamps.

    `time_scale` is how many clock seconds pass in a real one: 1 on a rig, more in a demonstration. `mono_s`
    and `sleep` are in clock seconds; a device's time-outs stay in real ones. `mono_s` may be called from any
    thread.
    """

    time_scale: float

    def mono_s(self) -> float: ...

    def utc(self) -> datetime: ...

    async def sleep(self, seconds: float) -> None: ...
