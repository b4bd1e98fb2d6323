"""A server of the v2 write API that answers at random, takes what it does not say, begins anew unasked."""

import gzip
import socket
import threading
import time
from collections import Counter, deque
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from random import Random
from zlib import crc32

from logger.daemon.clock import MachineClock

KINDS = {
    "204": 58, "400": 4, "401": 3, "413": 4, "429": 6, "500": 6,
    "time-out": 2, "slow": 5, "half-close": 6, "cut off": 6,
}  # fmt: skip
"""How often each is drawn, in percent."""
RESTARTS = 0.005
"""The chance, before each batch, that the server has begun anew."""
SLOW_S = 0.02
_TAKEN = ("204", "slow")
_STATUS = {"204": 204, "slow": 204, "400": 400, "401": 401, "413": 413, "429": 429, "500": 500}
_TAKES_MAYBE = ("time-out", "half-close", "cut off")
_POISON_ONE_IN = 997


class Chaos:
    """`loses_s` is what a restart loses; None where it never restarts and does not tell its start."""

    def __init__(self, seed: int, loses_s: float | None, hangs_s: float) -> None:
        self.points: dict[str, str] = {}
        """Fields by series and time."""
        self.asked = 0
        self.kinds: Counter[str] = Counter()
        self.restarts = 0
        self.is_calm = False
        self.hangs_s = hangs_s
        self._draw = Random(seed)
        self._loses_s = loses_s
        self._recent: deque[tuple[float, str]] = deque()
        self._started = MachineClock().utc()
        self._lock = threading.Lock()

    def take(self, lines: list[str]) -> str:
        """Draw an answer and do what it means to the lines."""
        with self._lock:
            self.asked += 1
            if self.is_calm:
                return self._taken(lines)
            if self._loses_s is not None and self._draw.random() < RESTARTS:
                self._restart(self._loses_s)
            kind = self._draw.choices(list(KINDS), list(KINDS.values()))[0]
            self.kinds[kind] += 1
            if kind in _TAKES_MAYBE and self._draw.random() < 0.5:
                self._taken(lines)
        if kind == "slow":
            time.sleep(SLOW_S)
        with self._lock:
            answer = self._taken(lines) if kind in _TAKEN else kind
        return kind if answer == "204" else answer

    def started(self) -> str | None:
        """When it began to run; now and then, or where it never tells, None."""
        with self._lock:
            is_told = self._loses_s is not None and (self.is_calm or self._draw.random() > 0.05)
            return self._started.isoformat() if is_told else None

    def _taken(self, lines: list[str]) -> str:
        """As servers do, the good lines of a batch are taken though the answer is that one is bad."""
        good = [line for line in lines if not is_poison(line)]
        now_s = time.monotonic()
        for line in good:
            key, fields = parts_of(line)
            if key not in self.points:
                self._recent.append((now_s, key))
            self.points[key] = fields
        return "204" if len(good) == len(lines) else "400"

    def _restart(self, loses_s: float) -> None:
        self.restarts += 1
        now_s = time.monotonic()
        for taken_s, key in self._recent:
            if now_s - taken_s < loses_s:
                self.points.pop(key, None)
        self._recent.clear()
        self._started = MachineClock().utc()


def is_poison(line: str) -> bool:
    """Some lines no server ever takes."""
    return crc32(line.encode()) % _POISON_ONE_IN == 0


def parts_of(line: str) -> tuple[str, str]:
    """Series and time of a line, and its fields; no tag here has a space."""
    series, _, rest = line.partition(" ")
    fields, _, at = rest.rpartition(" ")
    return f"{series} {at}", fields


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: "_Server"

    def do_GET(self) -> None:
        started = self.server.chaos.started()
        body = b"" if started is None else f'{{"status":"ready","started":"{started}"}}'.encode()
        self._answer(404 if started is None else 200, body)

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        if self.headers.get("Content-Encoding") == "gzip":
            body = gzip.decompress(body)
        kind = self.server.chaos.take(body.decode().splitlines())
        if kind in _STATUS:
            self._answer(_STATUS[kind], b"" if kind in _TAKEN else b'{"message":"drawn"}')
            return
        self.close_connection = True
        if kind == "time-out":
            time.sleep(self.server.chaos.hangs_s)
        if kind == "half-close":
            # Cut within the number: the public client takes a status line without its end for an answer.
            self.wfile.write(b"HTTP/1.1 2")
            self.connection.shutdown(socket.SHUT_WR)

    def _answer(self, status: int, body: bytes) -> None:
        self.send_response(status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        pass


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def __init__(self, chaos: Chaos) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.chaos = chaos

    def handle_error(self, *_: object) -> None:
        """A client that was killed, or did not wait, is what this is for."""


@contextmanager
def serving(chaos: Chaos) -> Iterator[str]:
    """The server on loopback, until the block ends."""
    server = _Server(chaos)
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
