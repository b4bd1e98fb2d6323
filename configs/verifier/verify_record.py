"""Verify Beadwatch records (SQLite) and sealed joints (JSON) without Beadwatch, as record-format.md says."""
# It only reads; it needs Python 3.11 and `cryptography`. Exit status 0: no fault, 1: faults.
# fmt: off
# ruff: noqa: B905, E731, S608, T201

import argparse
import base64
import hashlib
import itertools
import json
import lzma
import sqlite3
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

LOCAL = {"joint_id", "run_id", "event_id", "off_id", "joint_uuid", "chain", "data"}  # no evidence
RECORDER = ("migration ORDER BY number", "recorder_run ORDER BY run_id", "recorder_run_end ORDER BY run_id",
            "recorder_off ORDER BY off_id", "event WHERE joint_uuid IS NULL ORDER BY event_id")
JOINT = ("joint JOIN recorder_run USING (run_id) WHERE uuid = :uuid", "claim WHERE joint_uuid = :uuid",
         "event WHERE joint_uuid = :uuid ORDER BY event_id", "phase WHERE joint_uuid = :uuid ORDER BY phase",
         "joint_block WHERE joint_uuid = :uuid ORDER BY seq", "verdict WHERE joint_uuid = :uuid",
         "finding WHERE joint_uuid = :uuid ORDER BY seq",
         "joint_end JOIN recorder_run USING (run_id) WHERE joint_uuid = :uuid")
STATEMENT = "statement WHERE joint_uuid = :uuid AND chain = :chain ORDER BY seq"
fold = lambda value: -(value + 1 >> 1) if value & 1 else value >> 1
sha = lambda data: hashlib.sha256(data).hexdigest()
canonical = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode
faults, notes, papers, trusted, wanted, uses_of_key = [], [], [], set(), set(), {}


def signer(key, signature, text):
    """Return the fingerprint of a key, or raise where it did not sign."""
    Ed25519PublicKey.from_public_bytes(bytes.fromhex(key)).verify(bytes.fromhex(signature), text.encode())
    return sha(bytes.fromhex(key))[:32]


def lines(block):
    """Yield the line that stands for each sample of a block's canonical bytes."""
    numbers, value, shift = [], 0, 0
    for byte in block:
        value, shift = value | (byte & 127) << shift, shift + 7
        if byte < 128:
            numbers.append(value)
            value = shift = 0
    u = iter(numbers).__next__
    z = lambda: fold(u())
    if count := u():
        names = [bytes(u() for _ in range(u())).decode("ascii") for _ in range(u())]
        shapes = [[names[u()] for _ in range(u())] for _ in range(u())]
        first, period, shape_of = z(), z(), [shapes[u()] for _ in range(count)]
        times = list(itertools.accumulate((period + z() for _ in range(count - 1)), initial=first))
        halves = [z() for _ in range(count)]
        read = ((name, sum(shape.count(name) for shape in shape_of)) for name in names)
        raws = {name: iter([*itertools.accumulate(z() for _ in range(size))]) for name, size in read}
        for time, half, shape in zip(times, halves, shape_of):
            yield (f"{time} {half}" + "".join(f" {n}={next(raws[n])}" for n in shape) + "\n").encode()


def check_links(where, uuid, known, chains):
    for chain, seq, text, signature in known:
        body, links = json.loads(text), chains.setdefault(chain, [])
        for told, by in (*body.get("announced", ()), (text, signature.hex())):
            link = json.loads(told)
            key, place = signer(link["key"], by, told), (link["chain"], link["use"], link["seq"] <= seq)
            if "next" in link and key in trusted and place == (chain, body["use"], True):
                trusted.add(signer(link["next"], link["next_signature"], link["previous"]))
        if trusted and key not in trusted:
            faults.append(f"{where}: link {seq} is signed by {key}, a key that was not given")
        place = (body["chain"], body["seq"], body["joint"], body["v"], body["joint_previous"])
        if place != (chain, seq, uuid, 1, links[-1]["hash"] if links else ""):
            faults.append(f"{where}: link {seq} was signed for another place, or one before it is missing")
        uses_of_key.setdefault(key, set()).add(body["use"])
        body["hash"] = sha(text.encode())
        wanted.discard(f"{chain}:{seq}:{body['hash']}")
        links.append(body)


def check_scope(where, uuid, doc):
    """Check links, rows and samples about one joint, or with an empty uuid about none."""
    rows, said, chains = doc["rows"], doc["statements"], {}
    if rows.get("joint_end") and [*map(sha, doc["blocks"])] != [row[5] for row in rows["joint_block"]]:
        raise ValueError("the samples do not meet their hash")
    check_links(where, uuid, doc["links"], chains)
    homes = [links for links in chains.values() if links[0]["kind"] == ("open" if uuid else "genesis")]
    if len(homes) != 1 or said.keys() - chains:
        faults.append(f"{where}: not sealed")
    for chain, links in chains.items():
        rows["statement"], named = said.get(chain, []), {"statement"}.union(*(link["rows"] for link in links))
        ends = [link["kind"].endswith("end") for link in links if link["kind"] in ("run", "run_end", "end")]
        unsealed = faults if ends and ends[-1] else notes
        for table in rows if links in homes else named:
            check_rows(f"{where}: {table}", links, table, rows[table], unsealed)
        if uuid and links in homes:
            use = "live" if [*rows["joint"][0][11:13]] == ["live", 1.0] else "demonstration"
            faults.extend(f"{where}: the key is not a {use} one" for link in links if link["use"] != use)
            check_samples(where, links, [line for block in doc["blocks"] for line in lines(block)], unsealed)


def check_rows(where, links, table, rows, unsealed):
    done = links[0].get("before", {}).get(table, 0)
    for link in (link for link in links if table in link["rows"]):
        since, to, known = link["rows"][table]
        if since != done or to > len(rows) or sha(canonical(rows[since:to]).encode()) != known:
            faults.append(f"{where}: not what link {link['seq']} sealed")
        done = to
    if len(rows) != done:
        (unsealed if table == "event" else faults).append(f"{where}: {done} of {len(rows)} rows are sealed")


def check_samples(where, links, samples, unsealed):
    done = 0
    for link in (link for link in links if "samples" in link):
        done, known = link["samples"]
        if done > len(samples) or sha(b"".join(samples[:done])) != known:
            faults.append(f"{where}: the samples are not what link {link['seq']} sealed")
    unsealed.extend([f"{where}: {len(samples) - done} samples are not sealed"] if len(samples) > done else [])


def check_sealed(path):
    doc = json.loads(text := path.read_bytes().decode())
    read = {"blocks": [base64.b64decode(data, validate=True) for data in doc["blocks"]],
            "links": [(*link, bytes.fromhex(signature)) for *link, signature in doc["links"]]}
    form = {"blocks": [base64.b64encode(data).decode() for data in read["blocks"]],
            "links": [(*link, signature.hex()) for *link, signature in read["links"]],
            "schema": "beadwatch.sealed-joint/1", **{k: doc[k] for k in ("rows", "statements", "uuid")}}
    is_whole = set(doc["rows"]) == {source.split()[0] for source in JOINT} and doc["rows"]["joint_end"]
    if canonical(form) + "\n" != text or not is_whole:
        raise ValueError("not a sealed joint, or bytes were changed")
    check_scope(path, doc["uuid"], doc | read)


def check_record(path):
    db = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
    db.row_factory = lambda _, row: row[0] if len(row) == 1 else row

    def rows(source, uuid, chain=""):
        cursor = db.execute(f"SELECT * FROM {source}", {"uuid": uuid, "chain": chain})
        kept = [k for k, column in enumerate(cursor.description) if column[0] not in LOCAL]
        return [tuple(row[k] for k in kept) for row in cursor]

    column = lambda query, *values: list(db.execute(f"SELECT {query}", values))
    (own,), before, uuids, imported, retired = column("chain FROM chain"), "", {""}, {}, set()
    for number, text in enumerate(db.execute("SELECT body FROM link WHERE chain = ? ORDER BY seq", [own]), 1):
        link = json.loads(text)
        if (link["seq"], link["previous"]) != (number, before) or link["key"] in retired:
            faults.append(f"{path}: link {number} is of a key given up, or one before it is missing or moved")
        before = sha(text.encode())
        retired.update([link["key"]] if "next" in link else ())
        uuids.update(link.get("unsealed", ()))
        imported.update(link.get("imported", {}))
    for table in ("link", "statement", "journal", *(source.split()[0] for source in JOINT[1:])):
        uuids.update(column(f"DISTINCT coalesce(joint_uuid, '') FROM {table}"))
    papers.extend([{head} for heads in (*papers, *imported.values()) for head in heads])  # each of them alone
    wanted.update(*imported.values())
    for uuid in uuids.union(imported, column("uuid FROM joint")):
        doc = {"rows": {source.split()[0]: rows(source, uuid) for source in (JOINT if uuid else RECORDER)}}
        table, read = ("joint_block", lzma.decompress) if doc["rows"].get("joint_end") else ("journal", bytes)
        doc["blocks"] = [*map(read, column(f"data FROM {table} WHERE joint_uuid = ? ORDER BY seq", uuid))]
        doc["links"] = column("chain, seq, body, signature FROM link WHERE joint_uuid = ? ORDER BY seq", uuid)
        if any(link[0] != own for link in doc["links"]) and uuid not in imported:
            faults.append(f"{path}: {uuid} is of another record and was not imported")
        said = column("DISTINCT chain FROM statement WHERE joint_uuid = ?", uuid)
        doc["statements"] = {chain: rows(STATEMENT, uuid, chain) for chain in said}
        check_scope(f"{path}: {uuid or 'recorder'}", uuid, doc)
    faults.extend(f"{path}: {text}" for text in column("* FROM pragma_integrity_check") if text != "ok")


def verify(paths, keys=(), heads=()):
    """Return the faults, and what is no fault; `uses_of_key` has the keys that signed."""
    for known in (faults, notes, papers, trusted, wanted, uses_of_key):
        known.clear()
    trusted.update(key.replace("-", "").lower() for key in keys)
    papers.extend({*head.lower().split()} for head in heads)
    wanted.update(*papers)
    for path in paths:
        try:
            with path.open("rb") as file:
                is_record = file.read(15) == b"SQLite format 3"
            (check_record if is_record else check_sealed)(path)
        except Exception as error:  # whatever a damaged file leads to is a fault of that file
            faults.append(f"{path}: damaged ({type(error).__name__} {error})")
    faults.extend(f"{' '.join(paper)}: is not in what was checked" for paper in papers if paper <= wanted)
    faults.extend(f"key {k} signs live and demonstration" for k in uses_of_key if len(uses_of_key[k]) > 1)
    return faults, notes


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("paths", nargs="+", type=Path, metavar="FILE")
    for name, meant in ("--key", "fingerprint that may sign"), ("--head", "CHAIN:SEQ:HASH, a report's code"):
        parser.add_argument(name, action="append", default=[], help=meant)
    verify((asked := parser.parse_args()).paths, asked.key, asked.head)
    print(*faults, *notes, "FAULTS" if faults else "no fault", "signed by:", *uses_of_key, sep="\n")
    if not asked.key:
        print("Without --key: whoever signs everything anew with a key of his own is not found out.")
    if not asked.head:
        print("Without --head: a record cut off at its end, or put back as a whole, is not found out.")
    raise SystemExit(bool(faults))
