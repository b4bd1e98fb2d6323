"""How fast a backlog drains into a real time-series server on loopback, and whether all of it is there.

Run as `python -m tests.bench.forwarding --joints 300`: 30 working days of ten joints, drained while a
recorder samples beside it. With `--fuzz 10000` so many batches go to a server that answers at random, while
the forwarder is killed at random; with `--intake` lines of forty rigs go to the server as fast as it takes
them. Nothing is asserted.
"""

import argparse
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench.forward_drain import drained
from tests.bench.forward_fuzz import Wanted, fuzzed, told
from tests.bench.forward_intake import taken


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--joints", type=int, default=300)
    arguments.add_argument("--fuzz", type=int, metavar="BATCHES", help="answers and kills at random instead")
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--intake", action="store_true", help="what the server takes at most, instead")
    chosen = arguments.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for line in _report(Path(folder), chosen):
            print(line, flush=True)  # noqa: T201 - the report


def _report(folder: Path, chosen: argparse.Namespace) -> Iterator[str]:
    if chosen.fuzz:
        for tells_start in (True, False):
            yield f"the server {'tells' if tells_start else 'does not tell'} when it began to run"
            own = folder / str(tells_start)
            own.mkdir()
            wanted = Wanted(batches=chosen.fuzz // 2, seed=chosen.seed, tells_start=tells_start)
            yield from told(fuzzed(own, wanted))
    elif shutil.which("victoria-metrics") is None:
        yield "forwarding: skipped, the system package victoria-metrics is not installed"
    else:
        yield from taken(folder) if chosen.intake else drained(folder, chosen.joints)


if __name__ == "__main__":
    main()
