"""The v2 write API, spoken by the public client in its synchronous way: nothing waits in its memory."""

import re
import ssl
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime

import httpx
from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.domain.write_precision import WritePrecision
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

from logger.domain.forward_status import ForwardState
from logger.domain.forward_target import ForwardTarget
from logger.forward.sink import Answer, Delivered, Later, Look, Rejected, TooLarge

_TOO_LARGE = 413
_STATES = {
    0: ForwardState.NOT_TRUSTED,  # the public client's own number for a failure of TLS
    401: ForwardState.WRONG_TOKEN,
    403: ForwardState.WRONG_TOKEN,
    404: ForwardState.NO_BUCKET,
    429: ForwardState.SERVER_BUSY,
    507: ForwardState.DISK_FULL,
}
_DISK_FULL = ("no space left on device", "read-only mode")
"""What a full disk says, whatever the number: InfluxDB 1.6 with 500, VictoriaMetrics 1.79 with 503 (both
seen in the tests), InfluxDB 1.7 and 2.x (public reports of its users) with 400 "partial write" and 500."""
_REASON_CHARACTERS = 300
_STARTED = re.compile(r"^process_start_time_seconds (\S+)$", re.MULTILINE)
_LOOK_TIMEOUT_S = 5.0


class InfluxSink:
    """One server behind the v2 write API; used by one thread."""

    def __init__(self, target: ForwardTarget) -> None:
        self._bucket = target.bucket
        self._client = InfluxDBClient(
            url=target.url,
            token=target.token,
            org=target.org,
            timeout=int(1000 * target.timeout_s),
            enable_gzip=True,
            verify_ssl=target.verify_tls,
            ssl_ca_cert=target.ca_file or None,
            retries=False,
        )
        self._writer = self._client.write_api(write_options=SYNCHRONOUS)
        self._asking = client_for(target, min(target.timeout_s, _LOOK_TIMEOUT_S))

    def write(self, lines: Sequence[str]) -> Answer:
        try:
            self._writer.write(
                bucket=self._bucket,
                record="\n".join(lines),
                write_precision=WritePrecision.MS,  # type: ignore[arg-type]  # a class of texts
            )
        except ApiException as error:
            return _answer_of(error)
        except (HTTPError, OSError, ValueError) as error:
            return Later(ForwardState.SERVER_DOWN, _short(f"{type(error).__name__}: {error}"))
        return Delivered()

    def look(self) -> Look:
        """Ask `/ready` (documented of InfluxDB 2.x), then `/metrics` (1.6 and VictoriaMetrics 1.79, seen)."""
        utc = started_s = None
        try:
            for path in ("/ready", "/metrics"):
                answer = self._asking.get(path)
                utc = _utc_of(answer) or utc
                started_s = _started_s(answer) if answer.is_success else None
                if started_s is not None:
                    break
        except httpx.HTTPError as error:
            return Look(trouble=_short(f"{type(error).__name__}: {error}"))
        return Look(utc=utc, started_s=started_s)

    def close(self) -> None:
        self._asking.close()
        self._writer.close()  # type: ignore[no-untyped-call]
        self._client.close()  # type: ignore[no-untyped-call]


def client_for(target: ForwardTarget, timeout_s: float) -> httpx.Client:
    """A client for questions to the same server."""
    return httpx.Client(
        base_url=target.url,
        headers={"Authorization": f"Token {target.token}"},
        timeout=timeout_s,
        verify=ssl.create_default_context(cafile=target.ca_file) if target.ca_file else target.verify_tls,
        trust_env=False,
    )


def _answer_of(error: ApiException) -> Answer:
    status = error.status or 0
    headers: Mapping[str, str] = error.headers or {}
    text = f"{status} {error.reason or ''} {_body_of(error)}"
    reason = _short(text)
    if any(words in text for words in _DISK_FULL):
        return Later(ForwardState.DISK_FULL, reason)
    if status == _TOO_LARGE:
        return TooLarge()
    if status in _STATES:
        return Later(_STATES[status], reason, _retry_after_s(headers))
    if 400 <= status < 500:
        return Rejected(reason)
    return Later(ForwardState.SERVER_FAULT, reason, _retry_after_s(headers))


def _body_of(error: ApiException) -> str:
    body = error.body if error.body is not None else ""
    return body.decode("utf-8", "replace") if isinstance(body, bytes) else str(body)


def _utc_of(answer: httpx.Response) -> datetime | None:
    with suppress(ValueError):
        return parsedate_to_datetime(answer.headers.get("Date", "")).astimezone(UTC)
    return None


def _started_s(answer: httpx.Response) -> float | None:
    with suppress(ValueError, LookupError, TypeError):
        found = _STARTED.search(answer.text)
        if found:
            return float(found[1])
        return datetime.fromisoformat(answer.json()["started"]).timestamp()
    return None


def _retry_after_s(headers: Mapping[str, str]) -> float | None:
    """Seconds, or a date that counts from the server's own (RFC 9110, 10.2.3, from memory)."""
    text = headers.get("Retry-After") or ""
    with suppress(ValueError):
        return max(0.0, float(text))
    with suppress(ValueError):
        wait = parsedate_to_datetime(text) - parsedate_to_datetime(headers.get("Date") or "")
        return max(0.0, wait.total_seconds())
    return None


def _short(text: str) -> str:
    return " ".join(text.split())[:_REASON_CHARACTERS]
