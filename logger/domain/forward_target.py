"""A time-series server that curves are sent to."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class ForwardTarget:
    """Where to and how. `ca_file` is empty for the system's own authorities; the token is in no text."""

    name: str
    url: str
    org: str
    bucket: str
    token: str = field(repr=False)
    read_as: str = "influxql"
    timeout_s: float = 10.0
    verify_tls: bool = True
    ca_file: str = ""
    batch_lines: int = 5000
