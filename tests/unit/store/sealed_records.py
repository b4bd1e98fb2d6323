"""Small sealed records and the means to alter them, for the tests of both verifiers."""

import importlib.util
import json
import shutil
import sqlite3
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from logger.domain.record import EventKind, RecordEvent, Statement
from logger.domain.rig import Origin
from logger.domain.seal import ChainHead
from logger.store.keys import Keys, KeyUse, fingerprint_of
from logger.store.reader import Reader
from logger.store.summary import _SELECT
from logger.store.verify import verify_record
from tests.unit.store.record_values import EMITTED, ENDED, FINISHED, header, open_writer, sample

ROOT = Path(__file__).parents[3]


def standalone():
    """Load the second verifier from its own file, as a stranger would run it."""
    path = ROOT / "configs" / "verifier" / "verify_record.py"
    spec = importlib.util.spec_from_file_location("verify_record", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


SECOND = standalone()


@dataclass(frozen=True)
class Published:
    """What a stranger holds beside the file: the fingerprints of its keys and a head that was printed."""

    keys: tuple[str, ...]
    head: ChainHead


def live(index: int, number: str | None = None):
    return replace(header(index, number or f"K-{index:03d}"), origin=Origin.LIVE, time_scale=1.0)


def remark(uuid: str | None, text: str):
    return Statement(kind="remark", author="R. Amsel", at=ENDED, body={"text": text}, joint_uuid=uuid)


def make_record(path: Path, joint_count: int = 3, sample_count: int = 1300, first: int = 1) -> Published:
    """Record live joints with events, minute seals, judgements and statements; return what was published."""
    writer = open_writer(path)
    for index in range(first, first + joint_count):
        joint = live(index)
        writer.open_joint(joint)
        for k in range(sample_count):
            writer.append(joint.uuid, sample(k + index))
            if k % 400 == 0:
                event = RecordEvent(kind=EventKind.PHASE, code="bead_up", t_ms=100 * k, at=ENDED)
                writer.append_event(joint.uuid, event)
                writer.flush()
        writer.append_statement(remark(joint.uuid, "wind from the west"))
        writer.close_joint(joint.uuid, FINISHED, EMITTED)
        writer.append_statement(remark(joint.uuid, "bead looked at"))
        writer.append_event(None, RecordEvent(kind=EventKind.HEALTH, code="pressure.lost", at=ENDED))
        writer.flush()
    writer.append_statement(remark(None, "procedure confirmed"))
    writer.end_run(ENDED, "stopped")
    writer.close()
    return published(path)


def published(path: Path) -> Published:
    keys = Keys.beside(path)
    with Reader(path) as reader:
        return Published(tuple(fingerprint_of(keys.public(use)) for use in KeyUse), reader.chain_head())


def copy_of(path: Path, to: Path) -> Path:
    """Copy a closed record without its keys."""
    shutil.copyfile(path, to)
    return to


class Crime:
    """A record opened with its triggers out of the way; they are back, and the summary fits, at its end."""

    def __init__(self, path: Path) -> None:
        self.db = sqlite3.connect(path, isolation_level=None)
        self.db.execute("PRAGMA synchronous = OFF")
        self._triggers = self.db.execute(
            "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"
        ).fetchall()

    def __enter__(self) -> sqlite3.Connection:
        for name, _ in self._triggers:
            self.db.execute(f"DROP TRIGGER {name}")
        return self.db

    def __exit__(self, *_: object) -> None:
        with suppress(sqlite3.Error):
            # Whoever alters evidence thinks of what lists are read from.
            self.db.execute("DELETE FROM summary")
            self.db.execute(f"INSERT INTO summary {_SELECT}")
        for _, sql in self._triggers:
            self.db.execute(sql)
        self.db.close()


def found_by_both(path: Path, what: Published, *, with_head: bool = True) -> tuple[list, list[str]]:
    """Return what each verifier finds in a record, given the fingerprints and, unless told, the head."""
    heads = [what.head] if with_head else []
    first = verify_record(path, trusted=what.keys, heads=heads).faults
    second, _ = SECOND.verify([path], what.keys, [str(head) for head in heads])
    return first, list(second)


def bodies(db: sqlite3.Connection, chain: str) -> list[dict]:
    rows = db.execute("SELECT body FROM link WHERE chain = ? ORDER BY seq", (chain,))
    return [json.loads(body) for (body,) in rows]
