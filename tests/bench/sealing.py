"""What sealing and verifying cost, and attacks and mutated files in large numbers against both verifiers.

`python -m tests.bench.sealing --attacks 10000 --mutations 100000`; both verifiers see every one of them.
"""

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random
from statistics import median
from time import process_time

from logger.store.evidence import lines_of
from logger.store.keys import Keys, KeyUse
from logger.store.reader import Reader
from logger.store.sealed import verify_sealed
from logger.store.verify import verify_record
from tests.bench.timing import yardstick_s
from tests.unit.store.attacks import ATTACKS, attacked
from tests.unit.store.record_values import sample
from tests.unit.store.sealed_records import SECOND, found_by_both, live, make_record
from tests.unit.store.test_sealed_joint import mutated

REPEATS = 7
SAMPLES = 9_000


def cost(folder: Path) -> Iterator[str]:
    """A joint of 15 minutes at 10 Hz: what its seals cost, and what proving it costs."""
    yard_ms = 1e3 * yardstick_s()
    path = folder / "long.db"
    published = make_record(path, joint_count=1, sample_count=SAMPLES)
    with Reader(path) as reader:
        text = reader.sealed_joint(live(1).uuid)
        links = reader._connection.execute("SELECT sum(length(body) + 64), count(*) FROM link").fetchone()
    file = folder / "long.sealed.json"
    file.write_text(text, encoding="utf-8")
    keys, uuid = Keys.beside(path), live(1).uuid
    samples = [sample(k) for k in range(SAMPLES)]
    timed = {
        "one signature": lambda: keys.sign(KeyUse.LIVE, b"x" * 500),
        "running hash of all 9,000 samples": lambda: sum(map(len, lines_of(samples))),
        "verify the joint in the record": lambda: verify_record(path, joints=[uuid], trusted=published.keys),
        "verify its own file": lambda: verify_sealed(text, trusted=published.keys),
        "second verifier, its own file": lambda: SECOND.verify([file], published.keys),
    }
    yield f"Yardstick: a million additions in a Python loop take {yard_ms:.1f} ms here"
    for what, act in timed.items():
        spent = []
        for _ in range(REPEATS):
            begin = process_time()
            act()
            spent.append(1e3 * (process_time() - begin))
        yield f"{what}: {median(spent):.2f} ms, {median(spent) / yard_ms:.2f} yardsticks"
    yield f"links of such a record: {links[1]}, {links[0] / 1024:.1f} KiB"
    yield f"sealed file of such a joint: {len(text) / 1024:.0f} KiB"


def attacks(folder: Path, count: int) -> Iterator[str]:
    original, other = folder / "record.db", folder / "other.db"
    make_record(other, joint_count=2, sample_count=40, first=11)
    published = make_record(original, joint_count=3, sample_count=650)
    missed: Counter[str] = Counter()
    for number in range(count):
        attack = ATTACKS[number % len(ATTACKS)]
        place = Path(tempfile.mkdtemp(dir=folder))
        path = attacked(place, original, other, attack, 1_000_000 + number)
        for verifier, found in zip(("first", "second"), found_by_both(path, published), strict=True):
            if not found:
                missed[f"{attack.__name__}, seed {1_000_000 + number}, {verifier}"] += 1
        _remove(place)
    yield f"structural attacks: {count} of {len(ATTACKS)} kinds, missed {missed.total()} {dict(missed) or ''}"


def mutations(folder: Path, count: int) -> Iterator[str]:
    path, file = folder / "short.db", folder / "short.sealed.json"
    published = make_record(path, joint_count=1, sample_count=12)
    with Reader(path) as reader:
        data = reader.sealed_joint(live(1).uuid).encode()
    passed = same = 0
    for seed in range(1_000_000, 1_000_000 + count):
        changed = mutated(data, Random(seed))
        if changed == data:
            same += 1
            continue
        text = changed.decode("utf-8", "surrogateescape")
        file.write_bytes(changed)
        passed += not verify_sealed(text, trusted=published.keys).faults
        passed += not SECOND.verify([file], published.keys)[0]
    yield f"mutated files of a sealed joint: {count - same}, crashes 0, passed as good {passed}"


def _remove(place: Path) -> None:
    for entry in sorted(place.rglob("*"), reverse=True):
        entry.rmdir() if entry.is_dir() else entry.unlink()
    place.rmdir()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--attacks", type=int, default=250)
    parser.add_argument("--mutations", type=int, default=2_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        for part in (
            cost(Path(name)),
            attacks(Path(name), asked.attacks),
            mutations(Path(name), asked.mutations),
        ):
            for line in part:
                sys.stdout.write(f"{line}\n")
                sys.stdout.flush()
