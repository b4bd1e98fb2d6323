"""A time-series server that curves are sent to."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class ForwardTarget:
    """Where to and how. The token is left out of its text."""

    name: str
    url: str
    org: str
    bucket: str
    token: str = field(repr=False)
    read_as: str
    timeout_s: float
    verify_tls: bool
    ca_file: str
    batch_lines: int
