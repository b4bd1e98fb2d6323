"""The token on a link that is not the local socket: without it nothing is answered, not even the page."""

import hashlib
import hmac
from collections.abc import Iterable

from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from logger.wire.live import Refused

_SCHEME = "bearer"
LOCAL_ONLY = "/v1/record"
"""Routes at and below this are for the rig's own machine: over TCP nobody is answered there."""


class TokenGuard:
    """Lets a request through that carries `Authorization: Bearer TOKEN` and is not for the local socket."""

    def __init__(self, app: ASGIApp, token: str) -> None:
        self._app = app
        self._digest = _digest(token.encode())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if self._is_known(scope.get("headers", ())):
            await (_refuse_local if _is_local(scope) else self._app)(scope, receive, send)
        elif scope["type"] == "websocket":
            # Refused before it is accepted: the server answers 403.
            await send({"type": "websocket.close", "code": 1008})
        else:
            refused = Refused(error="Unauthorized", message="the token is missing or wrong")
            headers = {"WWW-Authenticate": "Bearer"}
            await JSONResponse(refused.model_dump(mode="json"), 401, headers)(scope, receive, send)

    def _is_known(self, headers: Iterable[tuple[bytes, bytes]]) -> bool:
        given = [value for name, value in headers if name.lower() == b"authorization"]
        if len(given) != 1:
            return False
        scheme, _, token = given[0].partition(b" ")
        # Digests have one length, so that the time taken says nothing of the token's.
        is_token = hmac.compare_digest(_digest(token.strip()), self._digest)
        return is_token and scheme.lower() == _SCHEME.encode()


def _is_local(scope: Scope) -> bool:
    path = str(scope.get("path", ""))
    return path == LOCAL_ONLY or path.startswith(f"{LOCAL_ONLY}/")


async def _refuse_local(scope: Scope, receive: Receive, send: Send) -> None:
    refused = Refused(error="Forbidden", message="only on the rig's own machine, over the local socket")
    await JSONResponse(refused.model_dump(mode="json"), 403)(scope, receive, send)


def _digest(token: bytes) -> bytes:
    return hashlib.sha256(token).digest()
