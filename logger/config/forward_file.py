"""FORWARD.toml: where the rig's curves go."""

import os
import stat
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from logger.config.quantity import Duration
from logger.config.toml_file import Document, FileModel, read_document
from logger.domain.forward_target import ForwardTarget

Name = Annotated[str, Field(min_length=1, max_length=100, pattern=r"^[A-Za-z0-9_.-]+$")]
Text = Annotated[str, Field(max_length=500)]


class TargetTable(FileModel):
    """`[target.NAME]`: a server behind the InfluxDB v2 write API."""

    url: Annotated[str, Field(pattern=r"^https?://")]
    org: Text = ""
    bucket: Annotated[str, Field(min_length=1, max_length=200)]
    token_file: Text = ""
    """Holds the token; nobody else may read it. Relative to this file."""
    token_variable: Text = ""
    """Or the environment variable that holds it."""
    read_as: Literal["influxql", "victoria-metrics"] = "influxql"
    """How `beadwatch forward verify` asks the server."""
    verify_tls: bool = True
    ca_file: Text = ""
    allow_plain_http: bool = False
    """Must be said for a server that is not on this machine: the token would go over the wire in clear."""
    timeout: Duration = 10.0
    batch_lines: Annotated[int, Field(ge=1, le=50_000, strict=True)] = 5000


class ForwardFile(FileModel):
    """The keys of FORWARD.toml."""

    format: int = Field(default=1, ge=1, le=1)
    target: dict[Name, TargetTable] = Field(min_length=1)


def load_targets(path: Path) -> dict[str, ForwardTarget]:
    """Read FORWARD.toml with its tokens, by name of the target.

    Raises InputError naming file, line and key: an unknown key, no token or two, a token that others can
    read, a plain connection to another machine that nobody allowed.
    """
    document = read_document(path)
    checked = document.checked(ForwardFile)
    return {name: _target(document, name, table, path.parent) for name, table in checked.target.items()}


def _target(document: Document, name: str, table: TargetTable, folder: Path) -> ForwardTarget:
    place = ("target", name)
    if table.url.startswith("http://") and not table.allow_plain_http and not _is_here(table.url):
        raise document.error(
            (*place, "url"), "sends the token in clear over the network; use https or say allow_plain_http"
        )
    return ForwardTarget(
        name=name,
        url=table.url.rstrip("/"),
        org=table.org,
        bucket=table.bucket,
        token=_token(document, place, table, folder),
        read_as=table.read_as,
        timeout_s=table.timeout,
        verify_tls=table.verify_tls,
        ca_file=str(folder / table.ca_file) if table.ca_file else "",
        batch_lines=table.batch_lines,
    )


def _token(document: Document, place: tuple[str, str], table: TargetTable, folder: Path) -> str:
    if bool(table.token_file) == bool(table.token_variable):
        raise document.error(place, "give token_file or token_variable, one of them")
    if table.token_variable:
        token = os.environ.get(table.token_variable, "")
        if not token:
            raise document.error((*place, "token_variable"), f"{table.token_variable} is not set")
        return token
    path = folder / table.token_file
    try:
        mode = path.stat().st_mode
        text = path.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise document.error((*place, "token_file"), f"{path} cannot be read: {error}") from error
    if stat.S_IMODE(mode) & (stat.S_IRWXG | stat.S_IRWXO):
        raise document.error((*place, "token_file"), f"{path} can be read by others: chmod 600")
    if not text:
        raise document.error((*place, "token_file"), f"{path} is empty")
    return text


def _is_here(url: str) -> bool:
    host = url.split("//", 1)[1].split("/", 1)[0]
    return host.rsplit(":", 1)[0] in ("127.0.0.1", "localhost", "[::1]")
