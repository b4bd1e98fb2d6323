"""The interface at work: on the local socket, and over TCP where that was asked for."""

import asyncio
import logging
import socket

from fastapi import FastAPI

from logger.api.guard import TokenGuard
from logger.api.listen import Listening
from logger.api.socket import server_of

_log = logging.getLogger(__name__)


async def serve(app: FastAPI, local: socket.socket, listening: Listening | None) -> None:
    """Serve until cancelled, then close every link; over TCP the same application stands behind its token."""
    servers = [(server_of(app), local)]
    if listening is not None:
        _log.info("listening on %s", listening.url)
        guarded = server_of(TokenGuard(app, listening.token), listening.tls_cert, listening.tls_key)
        servers.append((guarded, listening.listener))
    serving = [asyncio.create_task(server.serve(sockets=[listener])) for server, listener in servers]
    try:
        await asyncio.wait(serving, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for server, _ in servers:
            server.should_exit = True
        await asyncio.gather(*serving)
