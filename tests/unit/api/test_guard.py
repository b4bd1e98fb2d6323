"""Without the token nothing is answered; without TLS nothing is served to the network."""

import itertools
import socket
from pathlib import Path

import httpx
import pytest

from logger.api.app import app_of
from logger.api.guard import TokenGuard
from logger.api.listen import listen
from logger.api.record_routes import add_record
from logger.domain.listen import ListenOptions
from logger.errors import DeviceError, InputError
from logger.wire.afterwards import RecordMessage
from tests.unit.api.asgi import Client, websocket
from tests.unit.api.fake_recorder import FakeArchive, FakeDesk, FakeView

TOKEN = "correct-horse-battery-staple"


@pytest.fixture
def desk():
    return FakeDesk()


@pytest.fixture
def app(desk):
    return app_of(FakeView(), desk, FakeArchive(), "0")


@pytest.fixture
def guarded(app):
    return TokenGuard(app, TOKEN)


@pytest.fixture
def client(guarded):
    return Client(guarded)


def routes_of(app):
    """Every method and path there is, the page and the schema too, with something in each placeholder."""
    found = {("GET", "/docs"), ("GET", "/openapi.json"), ("GET", "/"), ("GET", "/nowhere")}
    for path, methods in app.openapi()["paths"].items():
        found |= {(method.upper(), path.replace("{joint_uuid}", "x")) for method in methods}
    return sorted(found)


STRANGERS = [
    {},
    {"Authorization": ""},
    {"Authorization": "Bearer"},
    {"Authorization": "Bearer "},
    {"Authorization": f"Bearer {TOKEN}x"},
    {"Authorization": f"Bearer {TOKEN[:-1]}"},
    {"Authorization": f"Bearer {TOKEN.upper()}"},
    {"Authorization": f"Basic {TOKEN}"},
    {"Authorization": TOKEN},
    {"X-Token": TOKEN},
    {"Cookie": f"token={TOKEN}"},
]


def test_a_stranger_is_refused_everywhere(app, client, desk):
    asked = list(itertools.product(routes_of(app), STRANGERS))
    refused = [
        client.request(method, path, headers=headers, params={"token": TOKEN}, json={}).status_code == 401
        for (method, path), headers in asked
    ]
    assert len(refused) > 250
    assert all(refused)
    assert desk.heard == []


@pytest.mark.parametrize("headers", STRANGERS)
async def test_a_stranger_gets_no_live_link(guarded, headers):
    async with websocket(guarded, "/v1/live", f"token={TOKEN}", headers) as link:
        assert link is None


def test_two_tokens_are_none(client):
    headers = [("Authorization", f"Bearer {TOKEN}"), ("Authorization", "Bearer x")]
    assert client.get("/v1/hello", headers=headers).status_code == 401


async def test_who_has_the_token_is_answered(guarded):
    headers = {"Authorization": f"Bearer {TOKEN}"}
    transport = httpx.ASGITransport(guarded)
    async with httpx.AsyncClient(transport=transport, base_url="http://recorder") as client:
        assert (await client.get("/v1/hello", headers=headers)).status_code == 200
    async with websocket(guarded, "/v1/live", headers=headers) as link:
        assert "beadwatch.hello/1" in await link.text()


class FakeRecord:
    async def which(self) -> RecordMessage:
        return RecordMessage(store="/var/lib/record.db")


def test_the_record_is_written_on_the_local_socket_alone(app, guarded):
    """Over TCP not even the token opens it; the same application answers on the socket."""
    add_record(app, FakeRecord())
    headers = {"Authorization": f"Bearer {TOKEN}"}
    paths = [path for path in app.openapi()["paths"] if path.startswith("/v1/record")]
    assert len(paths) == 7
    for path in [*paths, "/v1/record/", "/v1/record/nowhere"]:
        for method in ("GET", "POST"):
            assert Client(guarded).request(method, path, headers=headers, json={}).status_code == 403, path
    assert Client(app).get("/v1/record").json()["store"] == "/var/lib/record.db"


@pytest.fixture
def token_file(tmp_path):
    path = tmp_path / "token"
    path.write_text(f"{TOKEN}\n", encoding="ascii")
    path.chmod(0o600)
    return str(path)


def test_loopback_with_a_token_is_bound(token_file):
    bound = listen(ListenOptions(address="127.0.0.1:0", token_file=token_file))
    with bound.listener:
        assert bound.token == TOKEN
        assert bound.url.startswith("http://127.0.0.1:")


@pytest.mark.parametrize("address", ["0.0.0.0:0", "192.0.2.10:8720", "[::]:0", "[2001:db8::1]:1"])
def test_the_network_without_tls_is_refused(token_file, address):
    with pytest.raises(InputError, match="it needs tls_cert and tls_key"):
        listen(ListenOptions(address=address, token_file=token_file))


@pytest.mark.parametrize("address", ["127.0.0.1:0", "0.0.0.0:0", "localhost:0"])
def test_no_token_is_refused(address):
    with pytest.raises(InputError, match="needs a token"):
        listen(ListenOptions(address=address))


@pytest.mark.parametrize(
    "address", ["", "8720", "127.0.0.1", "127.0.0.1:99999", "rig.example:80", ":80", "a b:1"]
)
def test_what_is_no_address_is_refused(token_file, address):
    with pytest.raises(InputError, match=r"no HOST:PORT|no IP address"):
        listen(ListenOptions(address=address, token_file=token_file))


@pytest.mark.parametrize("text", ["", "short", "two words that are long enough"])
def test_a_token_that_is_none_is_refused(tmp_path, text):
    path = tmp_path / "token"
    path.write_text(text, encoding="ascii")
    path.chmod(0o600)
    with pytest.raises(InputError, match="holds no token"):
        listen(ListenOptions(address="127.0.0.1:0", token_file=str(path)))


def test_a_token_that_others_can_read_is_refused(token_file):
    Path(token_file).chmod(0o644)
    with pytest.raises(InputError, match="can be read by others"):
        listen(ListenOptions(address="127.0.0.1:0", token_file=token_file))


def test_half_of_tls_and_what_is_no_certificate_are_refused(token_file):
    with pytest.raises(InputError, match="belong together"):
        listen(ListenOptions(address="0.0.0.0:0", token_file=token_file, tls_cert=token_file))
    with pytest.raises(InputError, match="no certificate"):
        listen(
            ListenOptions(address="0.0.0.0:0", token_file=token_file, tls_cert=token_file, tls_key=token_file)
        )


def test_a_taken_port_is_a_device_error(token_file):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(DeviceError, match="cannot listen"):
            listen(ListenOptions(address=f"127.0.0.1:{taken.getsockname()[1]}", token_file=token_file))
