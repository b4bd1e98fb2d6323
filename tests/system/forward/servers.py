"""Real time-series servers on loopback, started and stopped by the tests, and a strict stand-in.

No InfluxDB 2.x server is to be had from the package registries: `Strict` answers as its public documentation
of the v2 write API says, and refuses what that does not allow.
"""

import gzip
import re
import socket
import ssl
import subprocess
import threading
import time
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import httpx

from logger.daemon.clock import MachineClock

READY_WITHIN_S = 30.0
_LINE = re.compile(r"[^ ,]+(,[^ =]+=([^ ,=]|\\[ ,=])+)+ [^ ].* -?\d+")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def forward_file(folder: Path, urls: str | dict[str, str], read_as: str = "influxql") -> Path:
    """FORWARD.toml with a target `office` for one address, or targets by name; their token is `secret`."""
    (folder / "token").write_text("secret")
    (folder / "token").chmod(0o600)
    path = folder / "forward.toml"
    named = {"office": urls} if isinstance(urls, str) else urls
    path.write_text(
        "format = 1\n"
        + "".join(
            f'[target.{name}]\nurl = "{url}"\norg = "works"\nbucket = "rigs"\n'
            f'token_file = "token"\nread_as = "{read_as}"\ntimeout = "2 s"\nbatch_lines = 300\n'
            for name, url in named.items()
        )
    )
    return path


@contextmanager
def process(arguments: list[str], health: str) -> Iterator[None]:
    """Run a server until the block ends; it is ready when `health` answers."""
    server = subprocess.Popen(arguments, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        limit_s = time.monotonic() + READY_WITHIN_S
        while True:
            try:
                if httpx.get(health, trust_env=False).status_code < 300:
                    break
            except httpx.HTTPError:
                pass
            assert time.monotonic() < limit_s, f"{arguments[0]} does not answer"
            time.sleep(0.05)
        yield
    finally:
        server.kill()
        server.wait()


@contextmanager
def victoria_metrics(folder: Path, port: int, *options: str) -> Iterator[str]:
    url = f"http://127.0.0.1:{port}"
    arguments = [
        "victoria-metrics",
        f"-storageDataPath={folder}",
        f"-httpListenAddr=127.0.0.1:{port}",
        "-retentionPeriod=100y",
        "-dedup.minScrapeInterval=1ms",
        "-search.latencyOffset=0s",
        "-loggerLevel=ERROR",
        *options,
    ]
    with process(arguments, f"{url}/health"):
        yield url


@contextmanager
def influxdb_1(folder: Path) -> Iterator[str]:
    """InfluxDB 1.6 behind a shim that gives its `/write` the path of the v2 API."""
    port, control = free_port(), free_port()
    folder.mkdir(parents=True, exist_ok=True)
    config = folder / "influxdb.conf"
    config.write_text(
        f"""
reporting-disabled = true
bind-address = "127.0.0.1:{control}"
[meta]
dir = "{folder}/meta"
[data]
dir = "{folder}/data"
wal-dir = "{folder}/wal"
[http]
bind-address = "127.0.0.1:{port}"
[monitor]
store-enabled = false
"""
    )
    url = f"http://127.0.0.1:{port}"
    with process(["influxd", "run", "-config", str(config)], f"{url}/ping"):
        httpx.post(f"{url}/query", params={"q": "CREATE DATABASE rigs"}, trust_env=False).raise_for_status()
        with answering(lambda request: _shimmed(request, url)) as shim:
            yield shim


Reply = tuple[int, dict[str, str], bytes]


class Request:
    """What came in."""

    def __init__(self, method: str, path: str, headers: dict[str, str], body: bytes) -> None:
        self.method, self.headers, self.body = method, headers, body
        parts = urllib.parse.urlsplit(path)
        self.path, self.query = parts.path, dict(urllib.parse.parse_qsl(parts.query))


@contextmanager
def answering(
    answer: Callable[[Request], Reply | None], behind_s: float = 0.0, tls: tuple[Path, Path] | None = None
) -> Iterator[str]:
    """A server on loopback; where `answer` gives None the connection is closed without a word.

    Its clock is behind ours by `behind_s`; `tls` are its certificate and key.
    """

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def _serve(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            reply = answer(Request(self.command, self.path, dict(self.headers), body))
            if reply is None:
                self.close_connection = True
                return
            status, headers, data = reply
            self.send_response(status)
            for name, value in {**headers, "Content-Length": str(len(data))}.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(data)

        do_GET = do_POST = _serve

        def date_time_string(self, timestamp: float | None = None) -> str:
            return super().date_time_string(
                MachineClock().utc().timestamp() - behind_s if timestamp is None else timestamp
            )

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    if tls is not None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(*tls)
        server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    try:
        yield f"{'http' if tls is None else 'https'}://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def _shimmed(request: Request, url: str) -> Reply:
    if request.path == "/api/v2/write":
        query = {"db": request.query["bucket"], "precision": request.query.get("precision", "ns")}
        path = f"/write?{urllib.parse.urlencode(query)}"
    else:
        path = f"{request.path}?{urllib.parse.urlencode(request.query)}"
    kept = {k: v for k, v in request.headers.items() if k in ("Content-Encoding", "Content-Type")}
    asked = httpx.request(
        request.method, url + path, headers=kept, content=request.body or None, trust_env=False
    )
    return asked.status_code, {"Content-Type": asked.headers.get("Content-Type", "text/plain")}, asked.content


class Strict:
    """The v2 write API as documented: token, org, bucket, precision, gzip, line protocol; 204 or 4xx."""

    def __init__(self, token: str) -> None:
        self._token = token
        self.lines: list[str] = []
        self.script: list[Reply | None] = []
        """Answers to give first, before it behaves."""
        self.asked = 0

    def __call__(self, request: Request) -> Reply | None:
        if self.script and request.path == "/api/v2/write":
            self.asked += 1
            return self.script.pop(0)
        if request.headers.get("Authorization") != f"Token {self._token}":
            return 401, {}, b'{"code":"unauthorized","message":"unauthorized access"}'
        if request.path == "/ready":
            return 200, {}, b'{"status":"ready","started":"2031-05-04T06:00:00.123456789Z","up":"2h"}'
        if request.path != "/api/v2/write" or request.method != "POST":
            return 404, {}, b'{"code":"not found"}'
        if request.query.get("bucket") != "rigs" or not request.query.get("org"):
            return 404, {}, b'{"code":"not found","message":"bucket not found"}'
        if request.query.get("precision") != "ms":
            return 400, {}, b'{"code":"invalid","message":"precision"}'
        body = request.body
        if request.headers.get("Content-Encoding") == "gzip":
            body = gzip.decompress(body)
        lines = body.decode("utf-8").splitlines()
        if not all(_LINE.fullmatch(line) for line in lines):
            return 400, {}, b'{"code":"invalid","message":"unable to parse"}'
        self.lines += lines
        return 204, {}, b""
