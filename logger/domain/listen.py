"""Where the recorder is to be reached beside its local socket."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenOptions:
    """`address` is HOST:PORT, port 0 takes a free one; the others are paths, empty where not given."""

    address: str
    token_file: str = ""
    tls_cert: str = ""
    tls_key: str = ""
