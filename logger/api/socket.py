"""The Unix socket of the interface: its permissions are its authentication."""

import contextlib
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import uvicorn
from starlette.types import ASGIApp

from logger.errors import DeviceError, InputError

PATH_LIMIT = 107
"""Bytes that the kernel allows for the path of a Unix socket."""
PING_EVERY_S = 15.0
"""A viewer that does not answer within as long again has gone."""
CLOSING_S = 2
"""How long a stop waits for links to close."""
LARGEST_SAID = 4096
"""Bytes of a message from a viewer; none is listened to."""


def bind(path: Path) -> socket.socket:
    """Bind a socket only its owner can use. Raises DeviceError when another recorder answers there."""
    if len(os.fsencode(path)) > PATH_LIMIT:
        raise InputError(f"socket path is longer than {PATH_LIMIT} bytes", file=str(path))
    if path.exists():
        if _answers(path):
            raise DeviceError(f"another recorder is running on {path}")
        try:
            path.unlink()
        except OSError as error:
            raise DeviceError(f"{path} is in the way and cannot be removed: {error.strerror}") from error
    path.parent.mkdir(parents=True, exist_ok=True)
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    before = os.umask(0o177)
    try:
        listener.bind(str(path))
    finally:
        os.umask(before)
    return listener


def _answers(path: Path) -> bool:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        try:
            probe.connect(str(path))
        except PermissionError as error:
            raise DeviceError(f"{path} belongs to another user, whose recorder may be running") from error
        except OSError:
            return False
        return True


class ApiServer(uvicorn.Server):
    """A server that leaves signals to the recorder."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


def server_of(app: ASGIApp, tls_cert: Path | None = None, tls_key: Path | None = None) -> ApiServer:
    """Make a quiet server for one process; `should_exit` stops it."""
    config = uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        lifespan="off",
        ws="websockets-sansio",
        ws_ping_interval=PING_EVERY_S,
        ws_ping_timeout=PING_EVERY_S,
        ws_max_size=LARGEST_SAID,
        ws_per_message_deflate=False,
        timeout_graceful_shutdown=CLOSING_S,
        ssl_certfile=tls_cert,
        ssl_keyfile=tls_key,
    )
    return ApiServer(config)
