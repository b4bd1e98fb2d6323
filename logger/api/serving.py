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
    """Serve until cancelled; both links are the same application, the one over TCP behind its token."""
    async with asyncio.TaskGroup() as tasks:
        tasks.create_task(server_of(app).serve(sockets=[local]))
        if listening is not None:
            _log.info("listening on %s", listening.url)
            guarded = server_of(TokenGuard(app, listening.token), listening.tls_cert, listening.tls_key)
            tasks.create_task(guarded.serve(sockets=[listening.listener]))
