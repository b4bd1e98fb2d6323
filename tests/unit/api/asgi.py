"""Talking to the application without a server: requests, and one WebSocket."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import httpx
from starlette.types import ASGIApp, Message


class Client:
    """Requests, one event loop each."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    def request(self, method: str, path: str, **options: Any) -> httpx.Response:
        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(self._app)
            async with httpx.AsyncClient(transport=transport, base_url="http://recorder") as client:
                return await client.request(method, path, **options)

        return asyncio.run(ask())

    def get(self, path: str, **options: Any) -> httpx.Response:
        return self.request("GET", path, **options)

    def post(self, path: str, **options: Any) -> httpx.Response:
        return self.request("POST", path, **options)


class Socket:
    """The viewer's end of a WebSocket."""

    def __init__(self, room: int) -> None:
        self.to_app: asyncio.Queue[Message] = asyncio.Queue()
        self.to_viewer: asyncio.Queue[Message] = asyncio.Queue(room)

    async def text(self) -> str:
        message = await asyncio.wait_for(self.to_viewer.get(), 30)
        assert message["type"] == "websocket.send", message
        return str(message["text"])

    async def say(self, text: str) -> None:
        await self.to_app.put({"type": "websocket.receive", "text": text})


@asynccontextmanager
async def websocket(
    app: ASGIApp, path: str, query: str = "", headers: dict[str, str] | None = None, room: int = 0
) -> AsyncIterator[Socket | None]:
    """Connect; None where the application refuses.

    A send waits while `room` messages are unread. Leaving says that the viewer has gone, and waits.
    """
    socket = Socket(room)
    scope = {
        "type": "websocket", "path": path, "raw_path": path.encode(), "query_string": query.encode(),
        "headers": [(k.lower().encode(), v.encode()) for k, v in (headers or {}).items()],
        "subprotocols": [], "scheme": "ws", "root_path": "",
    }  # fmt: skip
    await socket.to_app.put({"type": "websocket.connect"})
    running = asyncio.ensure_future(app(scope, socket.to_app.get, socket.to_viewer.put))
    try:
        first = await asyncio.wait_for(socket.to_viewer.get(), 30)
        yield socket if first["type"] == "websocket.accept" else None
    finally:
        await socket.to_app.put({"type": "websocket.disconnect", "code": 1001})
        await asyncio.wait_for(running, 30)
