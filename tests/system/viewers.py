"""Who uses the recorder's interface: requests, viewers that read, and viewers that never do."""

import contextlib
import json
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import unix_connect

BY = "R. Okafor"
ENTRY = {
    "joint": "A-1",
    "operator": BY,
    "project": "Lower Weir",
    "procedure": "dvs-2207-1:2015",
    "ambient_temperature": "20 degC",
    "ambient_instrument": "T-4",
    "pipe": {"material": "PE100", "outside_diameter": "63 mm", "sdr": "11", "code": "LOT 7"},
}
"""The demonstration's pipe, as typed; drag is measured on the rig."""
DRAG = "8 bar"
"""What the demonstration's operator finds."""


class Api:
    """The interface on the local socket."""

    def __init__(self, path: Path) -> None:
        transport = httpx.HTTPTransport(uds=str(path))
        self._client = httpx.Client(transport=transport, base_url="http://recorder", timeout=60)

    def __enter__(self) -> "Api":
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()

    def get(self, path: str, **query: object) -> Any:
        answer = self._client.get(path, params={k: str(v) for k, v in query.items()})
        assert answer.status_code == 200, answer.text
        return answer.json()

    def post(self, path: str, **body: Any) -> Any:
        answer = self._client.post(path, json=body)
        assert answer.status_code == 200, f"{path}: {answer.text}"
        return answer.json()

    def refused(self, path: str, **body: Any) -> Any:
        """The answer to something that is not done."""
        answer = self._client.post(path, json=body)
        assert answer.status_code in (409, 422), answer.text
        return answer.json()


class Viewer:
    """Reads the live link on a thread of its own; keeps every sample by its number, for each joint."""

    def __init__(self, path: Path, joint: str = "", since: int = 0) -> None:
        self._path = path
        self._query = f"joint={joint}&since={since}"
        self._thread = threading.Thread(target=self._read, daemon=True)
        self.schemas: list[str] = []
        self.samples: dict[str, dict[int, tuple[float, float | None]]] = {}
        self.skipped = 0
        self.repeated = 0
        self.state: dict[str, Any] = {}
        self.events: list[str] = []
        self._thread.start()

    def _read(self) -> None:
        url = f"ws://recorder/v1/live?{self._query}"
        with (
            contextlib.suppress(ConnectionClosed, OSError),
            unix_connect(str(self._path), uri=url, max_size=None) as link,
        ):
            for message in link:
                self._take(json.loads(message))

    def _take(self, message: dict[str, Any]) -> None:
        self.schemas.append(message["schema"])
        if "state" not in message:
            return
        self.skipped += message.get("skipped", 0)
        self.events += [event["code"] for event in message["state"]["events"]]
        samples = message["samples"]
        if samples is not None:
            kept = self.samples.setdefault(samples["joint_uuid"], {})
            rows = zip(samples["t_s"], samples["pressure_bar"], strict=True)
            for seq, row in enumerate(rows, samples["first_seq"]):
                self.repeated += seq in kept
                kept[seq] = row
        self.state = message["state"]

    def numbers(self, joint: str) -> list[int]:
        return sorted(self.samples.get(joint, {}))

    def ended(self) -> bool:
        """The link is closed."""
        return not self._thread.is_alive()


@contextlib.contextmanager
def never_reading(path: Path) -> Iterator[socket.socket]:
    """A viewer that asks for the live link and then reads nothing at all."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as link:
        link.connect(str(path))
        link.sendall(
            b"GET /v1/live HTTP/1.1\r\nHost: recorder\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
        )
        yield link


def resident_kib(pid: int) -> int:
    """Memory of a process."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1])
    raise AssertionError("no VmRSS")
