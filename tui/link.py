"""The monitor's only contact with the recorder: listens, reconnects by itself, carries commands.

Everything that can go wrong on the way becomes `Lost` (and listening goes on) or a BeadwatchError (and the
command was not carried out).
"""

import asyncio
import ssl
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, TypeVar
from urllib.parse import urlsplit

import httpx
from pydantic import BaseModel, TypeAdapter, ValidationError
from websockets.asyncio.client import connect, unix_connect
from websockets.exceptions import InvalidHandshake, InvalidURI, WebSocketException

from logger.errors import DeviceError, InputError, ProcedureRefusal
from logger.wire.live import Refused
from logger.wire.stream import API_VERSION, HelloMessage, LiveMessage, SamplesMessage
from logger.wording.recorder_lines import told
from logger.wording.refusals import refusal_text
from tui.catalogue import tr

RETRY_S = (0.2, 0.5, 1.0, 2.0)
"""Waits between attempts to connect; the last one again and again."""
ALIVE_EVERY_S = 2.0
TIMEOUT_S = 5.0
LARGEST_BYTES = 64 * 1024 * 1024
"""The snapshot of a joint of many hours."""

Answer = TypeVar("Answer", bound=BaseModel)
_MESSAGE: TypeAdapter[LiveMessage] = TypeAdapter(LiveMessage)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """The recorder does not answer, for this reason; the link tries again."""

    reason: str


Arrival = LiveMessage | SamplesMessage | Lost


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the recorder listens: a local socket, or an address with its token."""

    socket: Path | None = None
    url: str = ""
    token: str = ""


class Link(Protocol):
    """What a monitor needs of the recorder."""

    def arrivals(self) -> AsyncIterator[Arrival]: ...

    async def get(self, model: type[Answer], path: str) -> Answer: ...

    async def post(self, model: type[Answer], path: str, body: BaseModel | None = None) -> Answer: ...

    async def close(self) -> None: ...


class RecorderLink:
    """One recorder over its local socket or the network. Raises InputError for an address it cannot use."""

    def __init__(self, place: Place) -> None:
        self._place = place
        self._headers = {"Authorization": f"Bearer {place.token}"} if place.token else {}
        if place.socket is None and urlsplit(place.url).scheme not in ("http", "https"):
            raise InputError("an address begins with http:// or https://", key="--url")
        transport = httpx.AsyncHTTPTransport(uds=str(place.socket)) if place.socket else None
        self._client = httpx.AsyncClient(
            transport=transport,
            base_url=place.url or "http://recorder",
            headers=self._headers,
            timeout=TIMEOUT_S,
        )
        self._joint_uuid = ""
        self._last_seq = 0

    async def close(self) -> None:
        await self._client.aclose()

    async def get(self, model: type[Answer], path: str) -> Answer:
        """Ask. Raises DeviceError when nobody answers, and what the recorder refused with."""
        return await self._ask(model, "GET", path, None)

    async def post(self, model: type[Answer], path: str, body: BaseModel | None = None) -> Answer:
        """Tell. Raises DeviceError when nobody answers, and what the recorder refused with."""
        return await self._ask(model, "POST", path, body)

    async def _ask(self, model: type[Answer], method: str, path: str, body: BaseModel | None) -> Answer:
        content = None if body is None else body.model_dump_json(by_alias=True)
        headers = {} if body is None else {"Content-Type": "application/json"}
        try:
            answer = await self._client.request(method, path, content=content, headers=headers)
        except httpx.HTTPError as error:
            why = str(error) or type(error).__name__
            raise DeviceError(tr("no recorder answers: {why}", why=why)) from error
        if answer.is_success:
            try:
                return model.model_validate_json(answer.content)
            except ValidationError as error:
                text = tr("the recorder's answer to {path} is not understood", path=path)
                raise DeviceError(text) from error
        raise _refusal(answer)

    async def arrivals(self) -> AsyncIterator[Arrival]:
        """What the recorder says, for ever. A hole in the samples is filled before what follows it."""
        attempt = 0
        while True:
            try:
                async with self._connection() as connection:
                    async for text in connection:
                        attempt = 0
                        message = _MESSAGE.validate_json(text)
                        if isinstance(message, HelloMessage) and message.api != API_VERSION:
                            raise DeviceError(_other_version(message.api))
                        async for arrival in self._healed(message):
                            yield arrival
                reason = tr("the recorder closed the link")
            except ValidationError as error:
                fault = error.errors(include_url=False)[0]["msg"]
                reason = tr("a message is not understood: {fault}", fault=fault)
            except (OSError, WebSocketException, InvalidHandshake, InvalidURI, DeviceError) as error:
                reason = str(error) or type(error).__name__
            yield Lost(reason=reason)
            await asyncio.sleep(RETRY_S[min(attempt, len(RETRY_S) - 1)])
            attempt += 1

    async def _healed(self, message: LiveMessage) -> AsyncIterator[Arrival]:
        samples = None if isinstance(message, HelloMessage) else message.samples
        if samples is not None and samples.t_s:
            if samples.joint_uuid != self._joint_uuid:
                self._joint_uuid, self._last_seq = samples.joint_uuid, 0
            while samples.first_seq > self._last_seq + 1:
                missed = await self._missed(samples.joint_uuid)
                if missed is None:
                    break
                yield missed
            self._last_seq = max(self._last_seq, samples.first_seq + len(samples.t_s) - 1)
        yield message

    async def _missed(self, joint_uuid: str) -> SamplesMessage | None:
        """The next page of what was missed; None where it is not to be had, and stays a gap."""
        try:
            page = await self.get(SamplesMessage, f"/v1/curve?since_seq={self._last_seq}")
        except DeviceError:
            return None
        if page.joint_uuid != joint_uuid or not page.t_s:
            return None
        self._last_seq = page.first_seq + len(page.t_s) - 1
        return page

    def _connection(self) -> connect:
        options: dict[str, Any] = {
            "max_size": LARGEST_BYTES,
            "ping_interval": ALIVE_EVERY_S,
            "ping_timeout": ALIVE_EVERY_S,
            "open_timeout": TIMEOUT_S,
            "additional_headers": self._headers,
            "compression": None,
        }
        path = f"/v1/live?joint={self._joint_uuid}&since={self._last_seq}"
        if self._place.socket is not None:
            return unix_connect(str(self._place.socket), f"ws://recorder{path}", **options)
        url = self._place.url.rstrip("/").replace("http", "ws", 1)
        if url.startswith("wss"):
            options["ssl"] = ssl.create_default_context()
        return connect(f"{url}{path}", **options)


def _refusal(answer: httpx.Response) -> DeviceError | InputError:
    try:
        refused = Refused.model_validate_json(answer.content)
    except ValidationError:
        text = tr("the recorder answered {status}: {body}", status=answer.status_code, body=answer.text[:200])
        return DeviceError(text)
    kind = InputError if answer.status_code == httpx.codes.UNPROCESSABLE_ENTITY else DeviceError
    if refused.code:
        return kind(refusal_text(ProcedureRefusal(refused.code, refused.parameters)))
    return kind(told(refused.message))


def _other_version(api: int) -> str:
    return tr("it speaks version {theirs}, this monitor {ours}", theirs=api, ours=API_VERSION)
