"""What goes to the journal of a service manager carries its priority; what goes to a person does not."""

import os
import subprocess
import sys
from pathlib import Path

from logger.cli.journal import graded


def stderr_of(folder: Path, *, is_journal: bool) -> tuple[int, list[str]]:
    """Exit code and lines of a recorder whose rig file is wrong; a file stands for the journal's stream."""
    (folder / "rig.toml").write_text("format = 7\n", encoding="utf-8")
    with (folder / "stream").open("w+", encoding="utf-8") as stream:
        status = os.fstat(stream.fileno())
        device = status.st_dev if is_journal else status.st_dev + 1
        places: list[str | Path] = ["--store", folder / "record.db", "--socket", folder / "s"]
        done = subprocess.run(
            [sys.executable, "-m", "logger", "run", folder / "rig.toml", *places],
            stderr=stream,
            env={**os.environ, "JOURNAL_STREAM": f"{device}:{status.st_ino}"},
            check=False,
            timeout=60,
        )
        stream.seek(0)
        return done.returncode, stream.read().splitlines()


def test_a_wrong_rig_file_is_an_error_in_the_journal(tmp_path: Path) -> None:
    code, lines = stderr_of(tmp_path, is_journal=True)
    assert code == 3
    assert lines[-1].startswith("<3>beadwatch: ")
    assert "rig.toml" in lines[-1]


def test_a_stream_that_is_not_the_journal_gets_plain_lines(tmp_path: Path) -> None:
    code, lines = stderr_of(tmp_path, is_journal=False)
    assert code == 3
    assert lines[-1].startswith("beadwatch: ")


def test_every_line_is_graded() -> None:
    assert graded("lost\nno answer", 30) == "<4>lost\n<4>no answer"
    assert [graded("x", level) for level in (10, 20, 40, 50)] == ["<7>x", "<6>x", "<3>x", "<2>x"]
