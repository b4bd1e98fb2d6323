"""What system tests share."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder with a short name: the path of a Unix socket is limited to 107 bytes."""
    with tempfile.TemporaryDirectory(prefix="bw-") as name:
        yield Path(name)
