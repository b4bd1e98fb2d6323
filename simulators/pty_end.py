"""A serial line on a pty under a name that stays: pulled out it is gone, plugged in again another pty."""

import asyncio
import contextlib
import os
import select
import tty
from collections.abc import Callable
from pathlib import Path


class PtyEnd:
    """The rig's end of a line; `path` is what a client opens: `link` where one is given, else the pty itself.

    Bytes that come go to `take`. Without it the far end is left alone, so that `is_listened_to` can tell
    whether a client has the line open.
    """

    def __init__(self, link: Path | None = None, take: Callable[[bytes], None] | None = None) -> None:
        self.path = ""
        self._link = link
        self._take = take
        self._master: int | None = None
        self._held: int | None = None
        self._poll = select.poll()
        self.plug()

    def plug(self) -> None:
        """Open a pty, and name it; nothing happens where one is open. Needs a running loop with `take`."""
        if self._master is not None:
            return
        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self._master = master
        self.path = name = os.ttyname(slave)
        if self._take is None:
            os.close(slave)
            self._poll.register(master, select.POLLOUT)
        else:
            # Held open, or the master would be readable for ever once a client has closed the line.
            self._held = slave
            asyncio.get_running_loop().add_reader(master, self._readable)
        if self._link is not None:
            self.path = str(self._link)
            self._link.unlink(missing_ok=True)
            self._link.symlink_to(name)

    def unplug(self) -> None:
        """Take name and pty away: whoever has it open reads an end and cannot write."""
        if self._master is None:
            return
        if self._link is not None:
            self._link.unlink(missing_ok=True)
        if self._held is None:
            self._poll.unregister(self._master)
        else:
            asyncio.get_running_loop().remove_reader(self._master)
            os.close(self._held)
            self._held = None
        os.close(self._master)
        self._master = None

    @property
    def is_listened_to(self) -> bool:
        """A client has the line open; only without `take`."""
        return self._master is not None and not any(
            event & select.POLLHUP for _fd, event in self._poll.poll(0)
        )

    def send(self, data: bytes) -> None:
        """Send it, or lose it: on a line that is out or full."""
        if self._master is not None:
            with contextlib.suppress(BlockingIOError):
                os.write(self._master, data)

    def _readable(self) -> None:
        if self._master is not None and self._take is not None:
            with contextlib.suppress(BlockingIOError):
                self._take(os.read(self._master, 4096))
