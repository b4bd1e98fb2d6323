"""A service whose sandbox hides the home of its user finds what is in /etc, and starts joints."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

NOBODY = 65534
LOOK = (
    "import os\n"
    "from logger.config.folders import procedure_folders\n"
    "from logger.cli.places import default_rig\n"
    "from logger.errors import InputError\n"
    f"os.setgroups([]); os.setgid({NOBODY}); os.setuid({NOBODY})\n"
    "print(procedure_folders())\n"
    "try: default_rig()\n"
    "except InputError as error: print(error)\n"
)


@pytest.mark.skipif(os.getuid() != 0, reason="only root can become a user to whom a folder is closed")
def test_a_home_that_may_not_be_looked_into_holds_nothing(tmp_path: Path) -> None:
    home = tmp_path / "home"
    (home / ".config" / "beadwatch" / "procedures").mkdir(parents=True)
    home.chmod(0o700)
    environment = {name: text for name, text in os.environ.items() if not name.startswith("XDG_")}
    environment.pop("BEADWATCH_PROCEDURES", None)
    done = subprocess.run(
        [sys.executable, "-c", LOOK],
        capture_output=True,
        text=True,
        env={**environment, "HOME": str(home)},
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert str(home) not in done.stdout.splitlines()[0]
