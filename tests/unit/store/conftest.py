"""What the tests of the store share."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

MEMORY = Path("/dev/shm")


@pytest.fixture
def in_memory(tmp_path: Path) -> Iterator[Path]:
    """A folder where a sync costs nothing, for tests that let a disk fail by themselves a thousand times."""
    if not MEMORY.is_dir():
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(prefix="bw-", dir=MEMORY) as name:
        yield Path(name)
