"""The live link of one viewer: hello, a snapshot, then what is new, at most ten messages a second.

A message is made when the viewer's connection can take it. A viewer that does not read holds up its own link
only: its next message begins at the newest samples and says how many were left out.
"""

import asyncio
import contextlib

from fastapi import WebSocket, WebSocketDisconnect
from pydantic import BaseModel

from logger.api.feed import Feed
from logger.api.ports import ViewPort

BETWEEN_MESSAGES_S = 0.1
SIGN_OF_LIFE_S = 1.0


async def serve_viewer(socket: WebSocket, view: ViewPort, feed: Feed) -> None:
    """Serve until either side closes the link."""
    await socket.accept()
    sending = asyncio.create_task(_send(socket, view, feed))
    # A handler that only sends would never hear that the viewer has gone.
    hearing = asyncio.create_task(_hear(socket))
    tasks = {sending, hearing}
    try:
        await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            task.cancel()
        results = await asyncio.gather(*tasks, return_exceptions=True)
    for result in results:
        if isinstance(result, Exception) and not isinstance(result, WebSocketDisconnect):
            raise result


async def _send(socket: WebSocket, view: ViewPort, feed: Feed) -> None:
    await socket.send_text(_text(view.hello()))
    loop = asyncio.get_running_loop()
    said_at_s = loop.time()
    while True:
        message = feed.next_message(is_due=loop.time() - said_at_s >= SIGN_OF_LIFE_S)
        if message is not None:
            await socket.send_text(_text(message))
            said_at_s = loop.time()
        await asyncio.sleep(BETWEEN_MESSAGES_S)


async def _hear(socket: WebSocket) -> None:
    """Read until the viewer has gone; what it says is not listened to."""
    with contextlib.suppress(WebSocketDisconnect):
        while True:
            if (await socket.receive())["type"] == "websocket.disconnect":
                return


def _text(message: BaseModel) -> str:
    return message.model_dump_json()
