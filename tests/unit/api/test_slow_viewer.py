"""A real server on a socket: a viewer that stops reading is left behind, told so, and can heal its holes."""

import asyncio
import contextlib
import json
import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from websockets.asyncio.client import ClientConnection, unix_connect
from websockets.exceptions import ConnectionClosed

from logger.api import live
from logger.api.app import app_of
from logger.api.feed import BACKLOG
from logger.api.serving import serve
from logger.api.socket import bind
from tests.unit.api.fake_recorder import FakeArchive, FakeDesk, FakeView


class CountingView(FakeView):
    """Grows with every look at it, and counts how often somebody looked."""

    def __init__(self) -> None:
        super().__init__()
        self.looks = 0

    def state(self, since_seq):
        self.looks += 1
        self.count += BACKLOG // 2
        return super().state(since_seq)


@pytest.fixture
def view():
    return CountingView()


@asynccontextmanager
async def served(view: FakeView) -> AsyncIterator[Path]:
    with tempfile.TemporaryDirectory(prefix="bw-") as folder:
        path = Path(folder) / "r.sock"
        with bind(path) as listener:
            listener.listen()
            app = app_of(view, FakeDesk(), FakeArchive(), "0")
            serving = asyncio.create_task(serve(app, listener, None))
            try:
                yield path
            finally:
                serving.cancel()
                await asyncio.gather(serving, return_exceptions=True)


def connect(path: Path) -> unix_connect:
    """A viewer that keeps one message and leaves the rest in the socket."""
    return unix_connect(str(path), uri="ws://recorder/v1/live", max_queue=1, max_size=None, close_timeout=0.1)


async def until_closed(viewer: ClientConnection) -> AsyncIterator[str]:
    with contextlib.suppress(ConnectionClosed):
        while True:
            yield str(await viewer.recv())


async def stuck(view: CountingView) -> None:
    """Return when the recorder has stopped making messages for a viewer that does not read."""
    before = -1
    while before != view.looks:
        before = view.looks
        await asyncio.sleep(0.3)


async def updates(viewer: ClientConnection, count: int) -> list[dict]:
    found: list[dict] = []
    while len(found) < count:
        message = json.loads(await viewer.recv())
        if message["schema"] == "beadwatch.update/1" and message["samples"]:
            found.append(message)
    return found


async def test_a_viewer_that_stops_reading_skips_and_is_told(view, monkeypatch):
    monkeypatch.setattr(live, "BETWEEN_MESSAGES_S", 0.0)
    async with served(view) as path, connect(path) as viewer:
        await stuck(view)
        view.count += 10 * BACKLOG
        unread = view.looks
        found = await updates(viewer, unread + 5)
    assert sum(update["skipped"] for update in found) >= 9 * BACKLOG
    after = 0
    for update in found:
        first, count = update["samples"]["first_seq"], len(update["samples"]["t_s"])
        assert after == 0 or first == after + update["skipped"] + 1
        assert count <= BACKLOG
        after = first + count - 1


async def test_a_stuck_viewer_holds_up_nobody_else_and_not_the_stop(view, monkeypatch):
    monkeypatch.setattr(live, "BETWEEN_MESSAGES_S", 0.0)
    async with served(view) as path, connect(path), connect(path):
        await stuck(view)
        async with connect(path) as healthy:
            found = await updates(healthy, 20)
            assert len(found) == 20


async def test_a_reader_is_told_when_the_recorder_stops(view):
    async with served(view) as path:
        viewer = await connect(path)
    assert [message async for message in until_closed(viewer)]
    assert viewer.close_code in (1001, 1012)
