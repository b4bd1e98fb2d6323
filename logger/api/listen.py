"""A link over TCP beside the local socket: loopback with a token, the network with token and TLS too."""

import contextlib
import ipaddress
import re
import socket
import ssl
from dataclasses import dataclass
from pathlib import Path

from logger.domain.listen import ListenOptions
from logger.errors import DeviceError, InputError

SHORTEST_TOKEN = 20
_ADDRESS = re.compile(r"^(?:\[(?P<six>[0-9A-Fa-f:.]+)\]|(?P<host>[^:\s]+)):(?P<port>\d{1,5})$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Listening:
    """A bound socket with the token it asks for, and the certificate where it speaks TLS."""

    listener: socket.socket
    token: str
    tls_cert: Path | None
    tls_key: Path | None

    @property
    def url(self) -> str:
        host, port = self.listener.getsockname()[:2]
        scheme = "https" if self.tls_cert else "http"
        return f"{scheme}://{f'[{host}]' if ':' in host else host}:{port}"


def listen(options: ListenOptions) -> Listening:
    """Bind the address.

    Raises:
        InputError: a name instead of an address, no token, a token that others can read, TLS given in part or
            not usable, or an address on the network without TLS.
        DeviceError: the address cannot be bound.
    """
    host, port = _host_and_port(options.address)
    token = _token_of(options.token_file)
    cert = Path(options.tls_cert) if options.tls_cert else None
    key = Path(options.tls_key) if options.tls_key else None
    if (cert is None) != (key is None):
        raise InputError("tls_cert and tls_key belong together", key="tls_cert")
    if cert is None and not host.is_loopback:
        raise InputError(f"{host} is an address on the network: it needs tls_cert and tls_key", key="listen")
    if cert is not None and key is not None:
        _check_tls(cert, key)
    return Listening(listener=_bound(host, port), token=token, tls_cert=cert, tls_key=key)


Address = ipaddress.IPv4Address | ipaddress.IPv6Address


def _host_and_port(address: str) -> tuple[Address, int]:
    match = _ADDRESS.match(address)
    if match is None or int(match["port"]) > 65535:
        raise InputError(f'"{address}" is no HOST:PORT like "127.0.0.1:8720"', key="listen")
    name = match["six"] or match["host"]
    if name == "localhost":
        name = "127.0.0.1"
    try:
        return ipaddress.ip_address(name), int(match["port"])
    except ValueError:
        # A name may lead elsewhere tomorrow; whether it is the network has to be certain.
        raise InputError(f'"{name}" is no IP address', key="listen") from None


def _token_of(file: str) -> str:
    if not file:
        raise InputError("a link over TCP needs a token", key="token_file")
    path = Path(file)
    try:
        token = path.read_text(encoding="ascii").strip()
        mode = path.stat().st_mode
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"cannot be read: {error}", file=str(path), key="token_file") from None
    if mode & 0o077:
        raise InputError("can be read by others; chmod 600 it", file=str(path), key="token_file")
    if len(token) < SHORTEST_TOKEN or any(letter.isspace() for letter in token):
        raise InputError(
            f"holds no token: one word of {SHORTEST_TOKEN} characters or more is needed",
            file=str(path),
            key="token_file",
        )
    return token


def _check_tls(cert: Path, key: Path) -> None:
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(cert, key, password=_no_password)
    except (OSError, ssl.SSLError, ValueError) as error:
        raise InputError(
            f"{cert} and {key} are no certificate with its key: {error}", key="tls_cert"
        ) from None


def _no_password() -> str:
    raise ValueError("the key is locked by a password")


def _bound(host: Address, port: int) -> socket.socket:
    family = socket.AF_INET6 if host.version == 6 else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    with contextlib.ExitStack() as undo:
        undo.callback(listener.close)
        try:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind((str(host), port))
        except OSError as error:
            raise DeviceError(f"cannot listen on {host} port {port}: {error}") from error
        undo.pop_all()
    return listener
