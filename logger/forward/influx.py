"""The v2 write API, spoken by the public client in its synchronous way: nothing waits in its memory."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from influxdb_client.client.influxdb_client import InfluxDBClient
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.domain.write_precision import WritePrecision
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

from logger.forward.sink import Answer, Delivered, Later, Refused, Rejected, TooLarge

_REFUSED = {401, 403, 404}
_TOO_LARGE = 413
_MANY_REQUESTS = 429
_REASON_CHARACTERS = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class InfluxTarget:
    """Where to: `ca_file` is empty for the system's own authorities. The token appears in no text."""

    url: str
    org: str
    bucket: str
    token: str
    timeout_s: float = 10.0
    verify_tls: bool = True
    ca_file: str = ""


class InfluxSink:
    """One server behind the v2 write API; used by one thread."""

    def __init__(self, target: InfluxTarget) -> None:
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
            return Later(_short(f"{type(error).__name__}: {error}"))
        return Delivered()

    def close(self) -> None:
        self._writer.close()  # type: ignore[no-untyped-call]
        self._client.close()  # type: ignore[no-untyped-call]


def _answer_of(error: ApiException) -> Answer:
    status = error.status or 0
    headers: Mapping[str, str] = error.headers or {}
    reason = _short(f"{status} {error.reason or ''} {_body_of(error)}")
    if status in _REFUSED:
        return Refused(reason)
    if status == _TOO_LARGE:
        return TooLarge()
    if 400 <= status < 500 and status != _MANY_REQUESTS:
        return Rejected(reason)
    return Later(reason, _seconds(headers.get("Retry-After")), is_busy=status == _MANY_REQUESTS)


def _body_of(error: ApiException) -> str:
    body = error.body if error.body is not None else ""
    return body.decode("utf-8", "replace") if isinstance(body, bytes) else str(body)


def _seconds(text: str | None) -> float | None:
    try:
        return max(0.0, float(text)) if text is not None else None
    except ValueError:
        return None


def _short(text: str) -> str:
    return " ".join(text.split())[:_REASON_CHARACTERS]
