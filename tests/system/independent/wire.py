"""A serial line in software: two pseudo terminals back to back, carried by a thread of their own."""

import contextlib
import os
import select
import threading
import tty
from collections.abc import Iterator


@contextlib.contextmanager
def wire() -> Iterator[tuple[str, str]]:
    """The paths of both ends, until the context ends."""
    masters, slaves = [], []
    for _ in range(2):
        master, slave = os.openpty()
        tty.setraw(slave)
        masters.append(master)
        slaves.append(slave)
    stop_read, stop_write = os.pipe()
    thread = threading.Thread(target=_carry, args=(*masters, stop_read))
    thread.start()
    try:
        yield os.ttyname(slaves[0]), os.ttyname(slaves[1])
    finally:
        os.write(stop_write, b"x")
        thread.join()
        for end in (*masters, *slaves, stop_read, stop_write):
            os.close(end)


def _carry(one: int, other: int, stop: int) -> None:
    while True:
        ready, _, _ = select.select([one, other, stop], [], [])
        if stop in ready:
            return
        for source, sink in ((one, other), (other, one)):
            if source in ready:
                os.write(sink, os.read(source, 4096))
