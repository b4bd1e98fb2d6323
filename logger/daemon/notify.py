"""What the service manager is told of the recorder: sd_notify(3), datagrams to the socket that it names."""

import asyncio
import contextlib
import os
import socket
from collections.abc import Callable


def notify(state: str) -> None:
    """Send one state such as "READY=1"; nothing happens where no service manager listens."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address:
        return
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as link:
        link.connect("\0" + address[1:] if address.startswith("@") else address)
        link.send(state.encode())


def watchdog_period_s() -> float | None:
    """How often the watchdog wants a sign of life, half its time-out; None where there is none."""
    text = os.environ.get("WATCHDOG_USEC", "")
    is_for_us = os.environ.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid())
    return int(text) / 2e6 if text.isdigit() and is_for_us else None


async def keep_watchdog(is_polling: Callable[[], bool]) -> None:
    """Give signs of life for as long as the event loop turns, and the poller's on its thread."""
    period_s = watchdog_period_s()
    while period_s is not None:
        if is_polling():
            notify("WATCHDOG=1")
        await asyncio.sleep(period_s)
