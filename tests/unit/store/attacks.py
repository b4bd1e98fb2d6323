# ruff: noqa: S608 - table names come from the schema under attack
"""What somebody who owns the disk can do to a record. Each attack changes evidence and takes what it needs.

The attacker holds no key of the record, save in the attack that says so; with the published head and the
fingerprints both verifiers have to find every one.
"""

import json
import lzma
import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random

from logger.store import block
from logger.store.keys import Keys
from tests.unit.store.record_values import ENDED, FINISHED, open_writer, sample
from tests.unit.store.sealed_records import Crime, copy_of, live, remark

EVIDENCE = {
    "joint": ["number", "project", "operator", "rig_toml", "plan_json", "opened_utc", "boot_id", "procedure"],
    "event": ["code", "t_ms", "utc", "parameters", "kind"],
    "joint_block": ["first_ms", "last_ms", "sample_count", "sha256"],
    "phase": ["start_s", "end_s", "start_u_s", "end_reason"],
    "finding": ["code", "severity", "measured", "limit", "clause"],
    "verdict": ["verdict", "reasons", "decision_rule", "judgement"],
    "joint_end": ["reason", "mono_ms", "utc"],
    "statement": ["author", "reason", "body", "utc", "at_s", "kind"],
    "recorder_run": ["software", "clock_source", "started_utc", "utc_verified"],
    "recorder_run_end": ["reason", "utc"],
}
LINKED = [
    "claim",
    "event",
    "joint_block",
    "phase",
    "finding",
    "verdict",
    "joint_end",
    "statement",
    "journal",
    "link",
]


class Attack:
    """One record to be altered, a second rig's record to steal from, and the attacker's dice."""

    def __init__(self, path: Path, other: Path, keys: Path, chance: Random) -> None:
        self.path, self.other, self.keys, self.chance = path, other, keys, chance

    def joint(self, db) -> str:
        return self.chance.choice([uuid for (uuid,) in db.execute("SELECT uuid FROM joint ORDER BY uuid")])

    def rowid(self, db, table: str) -> int:
        return self.chance.choice([rowid for (rowid,) in db.execute(f"SELECT rowid FROM {table}")])


def alter_a_field(a: Attack) -> None:
    table = a.chance.choice(sorted(EVIDENCE))
    column = a.chance.choice(EVIDENCE[table])
    with Crime(a.path) as db:
        rowid = a.rowid(db, table)
        (old,) = db.execute(f'SELECT "{column}" FROM {table} WHERE rowid = ?', (rowid,)).fetchone()
        new = f"{old}." if isinstance(old, str) else 1 if old is None else old + a.chance.choice([1, -1, 1e6])
        if isinstance(old, int):
            new = int(new)
        db.execute(f'UPDATE {table} SET "{column}" = ? WHERE rowid = ?', (new, rowid))


def delete_a_row(a: Attack) -> None:
    table = a.chance.choice([*EVIDENCE, "link"])
    with Crime(a.path) as db:
        db.execute(f"DELETE FROM {table} WHERE rowid = ?", (a.rowid(db, table),))


def delete_a_joint_with_its_links(a: Attack) -> None:
    with Crime(a.path) as db:
        uuid = a.joint(db)
        for table in LINKED:
            db.execute(f"DELETE FROM {table} WHERE joint_uuid = ?", (uuid,))
        db.execute("DELETE FROM joint WHERE uuid = ?", (uuid,))


def delete_a_joint_but_its_links(a: Attack) -> None:
    with Crime(a.path) as db:
        uuid = a.joint(db)
        for table in LINKED[:-1]:
            db.execute(f"DELETE FROM {table} WHERE joint_uuid = ?", (uuid,))
        db.execute("DELETE FROM joint WHERE uuid = ?", (uuid,))


def swap_two_rows(a: Attack) -> None:
    """Two events, findings or statements of a joint change places in the order of the chain."""
    table, key = a.chance.choice([("finding", "seq"), ("statement", "seq"), ("event", "event_id")])
    with Crime(a.path) as db:
        uuid = a.joint(db)
        keys = [k for (k,) in db.execute(f"SELECT {key} FROM {table} WHERE joint_uuid = ?", (uuid,))]
        one, two = a.chance.sample(keys, 2)
        for old, new in ((one, -1), (two, one), (-1, two)):
            if table == "statement":
                db.execute("PRAGMA ignore_check_constraints = ON")
            db.execute(f"UPDATE {table} SET {key} = ? WHERE {key} = ? AND joint_uuid = ?", (new, old, uuid))
        if table == "event":
            db.execute("UPDATE event SET t_ms = t_ms + 1 WHERE event_id = ?", (one,))


def swap_two_links(a: Attack) -> None:
    with Crime(a.path) as db:
        db.execute("PRAGMA ignore_check_constraints = ON")
        one, two = a.chance.sample([seq for (seq,) in db.execute("SELECT seq FROM link")], 2)
        for old, new in ((one, -1), (two, one), (-1, two)):
            db.execute("UPDATE link SET seq = ? WHERE seq = ?", (new, old))


def repeat_a_row(a: Attack) -> None:
    table, key = a.chance.choice(
        [("finding", "seq"), ("statement", "seq"), ("event", "event_id"), ("link", "seq")]
    )
    with Crime(a.path) as db:
        columns = [name for (name,) in db.execute(f"SELECT name FROM pragma_table_info('{table}')")]
        (top,) = db.execute(f"SELECT max({key}) FROM {table}").fetchone()
        taken = ", ".join(str(top + 1) if name == key else f'"{name}"' for name in columns)
        db.execute(f"INSERT INTO {table} SELECT {taken} FROM {table} WHERE rowid = ?", (a.rowid(db, table),))


def repeat_a_joint_under_another_name(a: Attack) -> None:
    with Crime(a.path) as db:
        uuid = a.joint(db)
        for table in ["joint", *LINKED]:
            columns = [name for (name,) in db.execute(f"SELECT name FROM pragma_table_info('{table}')")]
            new = {"joint_id": "NULL", "event_id": "NULL", "attempt": "attempt + 7", "uuid": "'copy'",
                   "joint_uuid": "'copy'"}  # fmt: skip
            if table == "link":
                new["seq"] = "seq + 1000"
            taken = ", ".join(new.get(name, f'"{name}"') for name in columns)
            of = "uuid" if table == "joint" else "joint_uuid"
            db.execute(f"INSERT INTO {table} SELECT {taken} FROM {table} WHERE {of} = ?", (uuid,))


def give_a_joint_the_curve_of_another(a: Attack) -> None:
    with Crime(a.path) as db:
        one, two = a.chance.sample([uuid for (uuid,) in db.execute("SELECT uuid FROM joint")], 2)
        db.execute("DELETE FROM joint_block WHERE joint_uuid = ?", (one,))
        db.execute("UPDATE joint_block SET joint_uuid = ? WHERE joint_uuid = ?", (one, two))


def give_a_joint_the_links_of_another(a: Attack) -> None:
    with Crime(a.path) as db:
        one, two = a.chance.sample([uuid for (uuid,) in db.execute("SELECT uuid FROM joint")], 2)
        db.execute("UPDATE link SET joint_uuid = CASE joint_uuid WHEN ?1 THEN ?2 ELSE ?1 END "
                   "WHERE joint_uuid IN (?1, ?2)", (one, two))  # fmt: skip


def change_one_sample(a: Attack) -> None:
    """A reading becomes another; block and its hash are made to fit."""
    with Crime(a.path) as db:
        rowid = a.rowid(db, "joint_block")
        (data,) = db.execute("SELECT data FROM joint_block WHERE rowid = ?", (rowid,)).fetchone()
        samples = block.decode(lzma.decompress(data))
        k = a.chance.randrange(len(samples))
        first, *rest = samples[k].readings
        changed = first.__class__(quantity=first.quantity, raw=first.raw + a.chance.choice([-1, 1, 500]))
        samples[k] = samples[k].__class__(
            t_ms=samples[k].t_ms, half_width_ms=samples[k].half_width_ms, readings=(changed, *rest)
        )
        canonical = block.encode(samples)
        digest = a.chance.choice([", sha256 = ?3", ""])
        db.execute(
            f"UPDATE joint_block SET data = ?1{digest} WHERE rowid = ?2",
            (block.compress(canonical), rowid, block.sha256_of(canonical))[: 3 if digest else 2],
        )


def cut_samples_off(a: Attack) -> None:
    with Crime(a.path) as db:
        rowid = a.rowid(db, "joint_block")
        (data,) = db.execute("SELECT data FROM joint_block WHERE rowid = ?", (rowid,)).fetchone()
        samples = block.decode(lzma.decompress(data))
        canonical = block.encode(samples[: a.chance.randrange(len(samples))])
        db.execute("UPDATE joint_block SET data = ?, sha256 = ? WHERE rowid = ?",
                   (block.compress(canonical), block.sha256_of(canonical), rowid))  # fmt: skip


def splice_a_joint_of_another_rig(a: Attack) -> None:
    """A joint of another record is put in with its own good links."""
    with Crime(a.path) as db:
        db.execute("ATTACH ? AS other", (str(a.other),))
        (uuid,) = a.chance.choice(db.execute("SELECT uuid FROM other.joint").fetchall())
        for table in ["joint", *LINKED]:
            columns = [name for (name,) in db.execute(f"SELECT name FROM pragma_table_info('{table}')")]
            new = {"joint_id": "NULL", "event_id": "NULL", "attempt": "attempt + 7"}
            taken = ", ".join(new.get(name, f'"{name}"') for name in columns)
            of = "uuid" if table == "joint" else "joint_uuid"
            db.execute(f"INSERT INTO {table} SELECT {taken} FROM other.{table} WHERE {of} = ?", (uuid,))
        db.execute("DETACH other")


def splice_links_of_another_rig(a: Attack) -> None:
    with Crime(a.path) as db:
        db.execute("ATTACH ? AS other", (str(a.other),))
        seq = a.chance.choice([seq for (seq,) in db.execute("SELECT seq FROM other.link")])
        db.execute("UPDATE link SET (body, signature) = (SELECT body, signature FROM other.link o "
                   "WHERE o.seq = link.seq) WHERE seq = ?", (seq,))  # fmt: skip
        db.execute("DETACH other")


def strip_signatures(a: Attack) -> None:
    with Crime(a.path) as db:
        empty = a.chance.choice(["x''", "zeroblob(64)", "randomblob(64)"])
        some = a.chance.choice(["1", "seq = 1", "seq % 3 = 0"])
        db.execute(f"UPDATE link SET signature = {empty} WHERE {some}")


def strip_all_links(a: Attack) -> None:
    with Crime(a.path) as db:
        db.execute("DELETE FROM link" + a.chance.choice([" WHERE joint_uuid <> ''", ""]))


def move_the_clock_back(a: Attack) -> None:
    with Crime(a.path) as db:
        table, column = a.chance.choice(
            [("joint", "opened_utc"), ("joint_end", "utc"), ("event", "utc"), ("recorder_run", "started_utc")]
        )
        db.execute(f"UPDATE {table} SET {column} = replace({column}, '2031', '2030')")


def alter_a_link(a: Attack) -> None:
    key = a.chance.choice(
        ["at", "kind", "seq", "joint", "use", "previous", "joint_previous", "rows", "samples", "key"]
    )
    with Crime(a.path) as db:
        rowid = a.rowid(db, "link")
        (text,) = db.execute("SELECT body FROM link WHERE rowid = ?", (rowid,)).fetchone()
        body = json.loads(text)
        old = body.get(key)
        body[key] = old + 1 if isinstance(old, int) else {} if isinstance(old, dict) and old else f"{old}0"
        text = json.dumps(body, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        db.execute("UPDATE link SET body = ? WHERE rowid = ?", (text, rowid))


def renumber_a_joint(a: Attack) -> None:
    with Crime(a.path) as db:
        uuid = a.joint(db)
        change = a.chance.choice(
            ["number = 'K-900'", "attempt = 9", "project = 'Auwald'", "previous_uuid = uuid"]
        )
        db.execute(f"UPDATE joint SET {change} WHERE uuid = ?", (uuid,))


def claim_a_named_joint(a: Attack) -> None:
    """A claim that nobody made gives a joint another name in every list."""
    with Crime(a.path) as db:
        db.execute(
            "INSERT INTO claim VALUES (?, 'K-901', 'Auwald', 1, NULL, 'x', 'y', 1, 'z', 1)", (a.joint(db),)
        )


def add_evidence(a: Attack) -> None:
    with Crime(a.path) as db:
        uuid = a.joint(db)
        chain = a.chance.choice(["(SELECT chain FROM chain)", "'another'"])
        db.execute(a.chance.choice([
            f"INSERT INTO statement SELECT {chain}, ?, 99, 'remark', 'x', '', NULL, 1, 'z', 1, '{{}}'",
            "INSERT INTO finding VALUES (?, 99, 'none', 'remark', NULL, NULL, '', NULL, NULL, '', NULL)",
            "INSERT INTO event SELECT NULL, 1, ?, 'gap', 'x', 1, 1, 'z', 1, '{}'",
        ]), (uuid,))  # fmt: skip


def call_a_live_joint_simulated(a: Attack) -> None:
    with Crime(a.path) as db:
        db.execute("UPDATE joint SET origin = 'simulated', time_scale = 10.0 WHERE uuid = ?", (a.joint(db),))


def sign_all_anew_with_another_key(a: Attack) -> None:
    """Everything hashed and signed again after a change, as the recorder itself would have done it."""
    forger = Keys.beside(a.path.with_name("forger.db"))
    with Crime(a.path) as db:
        uuid = a.joint(db)
        db.execute("UPDATE link SET body = body WHERE joint_uuid = ?", (uuid,))
        previous, of_joint = "", {}
        for seq, joint, text in db.execute("SELECT seq, joint_uuid, body FROM link ORDER BY seq").fetchall():
            body = json.loads(text)
            use = body["use"]
            body |= {"at": "2031-05-04T07:00:00.001Z", "previous": previous, "key": forger.public(use).hex()}
            body["joint_previous"] = of_joint.get(joint, "")
            text = json.dumps(body, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
            previous = of_joint[joint] = block.sha256_of(text.encode())
            db.execute(
                "UPDATE link SET body = ?, signature = ? WHERE seq = ?",
                (text, forger.sign(use, text.encode()), seq),
            )


def cut_the_tail_off(a: Attack) -> None:
    """The last joints and all that was said later, with their links: as if they had not been made."""
    with Crime(a.path) as db:
        (last,) = db.execute("SELECT max(seq) FROM link").fetchone()
        cut_after(db, a.chance.randrange(2, last))


def roll_back_and_go_on_with_the_key(a: Attack) -> None:
    """An older state of the whole record is put back, and the recorder goes on recording on top of it."""
    with Crime(a.path) as db:
        (last,) = db.execute("SELECT max(seq) FROM link").fetchone()
        cut_after(db, a.chance.randrange(2, last))
    shutil.copytree(a.keys, a.path.with_name(a.path.name + ".keys"), dirs_exist_ok=True)
    writer = open_writer(a.path)
    joint = live(a.chance.randrange(100, 999))
    writer.open_joint(joint)
    for index in range(20):
        writer.append(joint.uuid, sample(index))
    writer.close_joint(joint.uuid, FINISHED, None)
    for _ in range(30):
        writer.append_statement(remark(joint.uuid, f"{a.chance.random()}"))
    writer.end_run(ENDED, "stopped")
    writer.close()


def cut_after(db, seq: int) -> None:
    """Leave what the record was when its link `seq` had just been made."""
    kept: dict[tuple[str, str], int] = {}
    for joint, text in db.execute("SELECT joint_uuid, body FROM link WHERE seq <= ?", (seq,)):
        for table, (_, to, _) in json.loads(text)["rows"].items():
            kept[joint, table] = to
    for (joint,) in db.execute("SELECT DISTINCT joint_uuid FROM link").fetchall():
        for table in EVIDENCE:
            of = {"joint": "uuid = ?", "event": "coalesce(joint_uuid, '') = ?"}.get(table, "joint_uuid = ?")
            of = "? = ''" if table.startswith("recorder") else of
            offset = kept.get((joint, table), 0)
            rows = f"SELECT rowid FROM {table} WHERE {of} ORDER BY rowid LIMIT -1 OFFSET {offset}"
            db.execute(f"DELETE FROM {table} WHERE rowid IN ({rows})", (joint,))
    db.execute("DELETE FROM link WHERE seq > ?", (seq,))


ATTACKS: list[Callable[[Attack], None]] = [
    alter_a_field, delete_a_row, delete_a_joint_with_its_links, delete_a_joint_but_its_links, swap_two_rows,
    swap_two_links, repeat_a_row, repeat_a_joint_under_another_name, give_a_joint_the_curve_of_another,
    give_a_joint_the_links_of_another, change_one_sample, cut_samples_off, splice_a_joint_of_another_rig,
    splice_links_of_another_rig, strip_signatures, strip_all_links, move_the_clock_back, alter_a_link,
    renumber_a_joint, claim_a_named_joint, add_evidence, call_a_live_joint_simulated,
    sign_all_anew_with_another_key, cut_the_tail_off, roll_back_and_go_on_with_the_key,
]  # fmt: skip


def attacked(folder: Path, original: Path, other: Path, attack: Callable[[Attack], None], seed: int) -> Path:
    """Return a copy of a record after an attack."""
    path = copy_of(original, folder / f"attacked-{attack.__name__}-{seed}.db")
    attack(Attack(path, other, original.with_name(original.name + ".keys"), Random(seed)))
    return path
