"""The interface over TCP: a token on loopback, TLS as well on the network, and strangers get nothing."""

import datetime
import ipaddress
import json
import re
import ssl
import subprocess
from pathlib import Path

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from tests.system.processes import Recorder, beadwatch, running, tcp_bus, until

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]

TOKEN = "a-token-of-some-length-17"
BEARER = {"Authorization": f"Bearer {TOKEN}"}
NO_RIG = tcp_bus(1)
"""Nobody answers there; the interface does not mind."""


@pytest.fixture
def token_file(folder):
    path = folder / "token"
    path.write_text(TOKEN, encoding="ascii")
    path.chmod(0o600)
    return path


def certificate(folder: Path) -> tuple[Path, Path]:
    """A certificate for 127.0.0.1 that signs itself, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "rig-7")])
    begin = datetime.datetime(2020, 1, 1, tzinfo=datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(begin)
        .not_valid_after(begin.replace(year=2120))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), critical=False
        )
        .sign(key, hashes.SHA256())
    )
    cert_path, key_path = folder / "rig.crt", folder / "rig.key"
    cert_path.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    key_path.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
    )
    return cert_path, key_path


def told_url(recorder: Recorder, process: "subprocess.Popen[str]") -> str:
    """The address that the recorder says it listens on."""
    found: list[str] = []

    def said() -> bool:
        found[:] = re.findall(r"listening on (https?://\S+)", recorder.log.read_text(encoding="utf-8"))
        return bool(found) or process.poll() is not None

    until(said, "the recorder says where it listens", recorder.log)
    assert found, recorder.log.read_text(encoding="utf-8")
    return found[0]


def test_on_loopback_a_token_is_enough_and_without_it_nothing_is_answered(folder, token_file):
    recorder = Recorder(folder / "r", NO_RIG)
    arguments = [*recorder.arguments(), "--listen", "127.0.0.1:0", "--token-file", str(token_file)]
    with running(arguments, recorder.log) as process:
        url = told_url(recorder, process)
        until(recorder.answers, "the local socket", recorder.log)
        for path in ("/", "/docs", "/openapi.json", "/v1/hello", "/v1/state", "/v1/joints"):
            assert httpx.get(url + path).status_code == 401, path
        assert httpx.post(f"{url}/v1/joint/abort", json={"reason": "x"}).status_code == 401
        assert httpx.get(f"{url}/v1/hello", headers=BEARER).json()["api"] == 1
        socket_url = url.replace("http", "ws", 1) + "/v1/live"
        with pytest.raises(InvalidStatus) as refused, connect(socket_url):
            pass
        assert refused.value.response.status_code == 403
        with connect(socket_url, additional_headers=BEARER) as link:
            assert json.loads(link.recv())["schema"] == "beadwatch.hello/1"


def test_on_the_network_the_link_is_tls_with_a_token(folder, token_file):
    cert, key = certificate(folder)
    recorder = Recorder(folder / "r", NO_RIG)
    keys = {"listen": "0.0.0.0:0", "token_file": token_file, "tls_cert": cert, "tls_key": key}
    table = "\n[api]\n" + "".join(f'{name} = "{value}"\n' for name, value in keys.items())
    recorder.rig_file.write_text(recorder.rig_file.read_text(encoding="utf-8") + table, encoding="utf-8")
    context = ssl.create_default_context(cafile=str(cert))
    with running(recorder.arguments(), recorder.log) as process:
        url = told_url(recorder, process).replace("0.0.0.0", "127.0.0.1")
        assert url.startswith("https://")
        until(recorder.answers, "the local socket", recorder.log)
        with httpx.Client(verify=context) as client:
            assert client.get(f"{url}/v1/hello").status_code == 401
            assert client.get(f"{url}/v1/hello", headers=BEARER).status_code == 200
        with pytest.raises(httpx.HTTPError):
            httpx.get(url.replace("https", "http"), headers=BEARER)
        live = url.replace("https", "wss", 1) + "/v1/live"
        with connect(live, additional_headers=BEARER, ssl=context) as link:
            assert json.loads(link.recv())["schema"] == "beadwatch.hello/1"
    assert TOKEN.encode() not in recorder.store.read_bytes()


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--listen", "0.0.0.0:0"], "needs a token"),
        (["--listen", "0.0.0.0:0", "--token-file", "TOKEN"], "needs tls_cert and tls_key"),
        (["--listen", "127.0.0.1:0"], "needs a token"),
        (["--listen", "rig-7:80", "--token-file", "TOKEN"], "no IP address"),
    ],
)
def test_what_is_not_safe_is_refused_before_anything_is_opened(folder, token_file, options, word):
    recorder = Recorder(folder / "r", NO_RIG)
    named = [str(token_file) if option == "TOKEN" else option for option in options]
    done = beadwatch(*recorder.arguments()[2:], *named)
    assert done.returncode == 3
    assert word in done.stderr
    assert not recorder.store.exists()
