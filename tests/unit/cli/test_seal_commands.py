"""`joints verify`, `joints head` and `key`: what they print and how they end."""

import re
import stat
import subprocess
import sys
import zipfile

import pytest

from logger.domain.seal import Fault
from logger.store import proof, sealed, verify
from logger.store.reader import Reader
from logger.wording.seal_text import seal_text
from logger.wording.verification_text import ALWAYS, NO_HEAD, NO_KEY, fault_text
from tests.unit.cli.command import command_of
from tests.unit.store.sealed_records import ROOT, SECOND, Crime, live, make_record


@pytest.fixture
def beadwatch(capsys, monkeypatch):
    return command_of(capsys, monkeypatch)


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "record.db"
    make_record(path, joint_count=2, sample_count=30)
    return path


def test_a_good_record_given_key_and_head(beadwatch, record):
    head = beadwatch("joints", "head", "--store", record).out.strip()
    shown = beadwatch("key", "show", "--store", record)
    keys = re.findall(r"[0-9a-f]{4}(?:-[0-9a-f]{4}){7}", shown.out)
    assert len(keys) == 2
    given = [part for key in keys for part in ("--key", key)]
    ran = beadwatch("joints", "verify", "--all", *given, "--head", head, "--store", record)
    assert ran.code == 0
    assert "2 joints" in ran.out
    assert "no fault found" in ran.out
    assert ALWAYS in ran.out
    assert NO_KEY not in ran.out
    assert NO_HEAD not in ran.out


def test_what_cannot_be_found_without_key_and_head_is_said(beadwatch, record):
    ran = beadwatch("joints", "verify", "K-001", "--store", record)
    assert ran.code == 0
    assert NO_KEY in ran.out
    assert NO_HEAD in ran.out


def test_an_altered_record_is_not_proven(beadwatch, record):
    with Crime(record) as db:
        db.execute("UPDATE finding SET severity = 'remark' WHERE joint_uuid = ?", (live(2).uuid,))
    good = beadwatch("joints", "verify", "K-001", "--store", record)
    bad = beadwatch("joints", "verify", "K-002", "--store", record)
    assert (good.code, bad.code) == (0, 5)
    assert "rows of finding are not those that link" in bad.out
    assert "NOT PROVEN" in bad.out
    assert beadwatch("joints", "verify", "--all", "--store", record).code == 5


def test_files_of_sealed_joints_and_bundles(beadwatch, record, tmp_path):
    with Reader(record) as reader:
        text = reader.sealed_joint(live(1).uuid)
    (tmp_path / "k-001.sealed.json").write_text(text, encoding="utf-8")
    with zipfile.ZipFile(tmp_path / "bundle.zip", "w") as bundle:
        bundle.writestr("K-001-1/joint.sealed.json", text)
        bundle.writestr("report.pdf", "-")
    (tmp_path / "changed.sealed.json").write_text(text.replace("R. Amsel", "R. Meise"), encoding="utf-8")
    for name, code in (("k-001.sealed.json", 0), ("bundle.zip", 0), ("changed.sealed.json", 5)):
        assert beadwatch("joints", "verify", tmp_path / name).code == code, name
    with zipfile.ZipFile(tmp_path / "empty.zip", "w") as bundle:
        bundle.writestr("report.pdf", "-")
    ran = beadwatch("joints", "verify", tmp_path / "empty.zip")
    assert (ran.code, ran.err) == (
        3,
        f"beadwatch: {tmp_path}/empty.zip: holds no sealed joint (*.sealed.json)\n",
    )


def test_paper_and_the_joints_own_file_are_held_against_each_other(beadwatch, record, tmp_path):
    """One step with what the code on the report holds; a file from before the last word is not that joint."""
    file, before = tmp_path / "now.sealed.json", tmp_path / "before.sealed.json"
    with Reader(record) as reader:
        before.write_text(reader.sealed_joint(live(1).uuid), encoding="utf-8")
    told = ("--value", "N. Holt", "--by", "E. Weir", "--reason", "typing error", "--store", record)
    assert beadwatch("joints", "correct", "K-001", "--what", "operator", *told).code == 0
    assert beadwatch("joints", "correct", "K-002", "--what", "operator", *told).code == 0
    with Reader(record) as reader:
        file.write_text(reader.sealed_joint(live(1).uuid), encoding="utf-8")
        code = seal_text(reader.seal_of(live(1).uuid), reader.chain_head()).witness
        keys = {reader.seal_of(live(1).uuid).key}
    assert len(code.split()) == 2
    for path, is_good in ((file, True), (before, False), (record, True)):
        assert (SECOND.verify([path], (), [code])[0] == []) is is_good, path
        named = (path,) if path != record else ("--all", "--store", record)
        assert (beadwatch("joints", "verify", *named, "--head", code).code == 0) is is_good, path
    # With record and file at once the file does not excuse a record that lacks the head.
    with Crime(record) as db:
        db.execute("DELETE FROM link WHERE seq = (SELECT max(seq) FROM link)")
    for paths in ([file, record], [record, file]):
        assert any("not in what was checked" in fault for fault in SECOND.verify(paths, keys, [code])[0])
    ran = beadwatch("joints", "verify", file, "--all", "--store", record, "--head", code)
    assert (ran.code, code.split()[1] in ran.out) == (5, True)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "name a joint or a file, or ask for --all"),
        (("K-001", "--head", "x"), "is no chain head"),
        (("K-001", "--key", "0123"), "is no fingerprint"),
        (("K-009",), "nearest: K-00"),
    ],
)
def test_bad_arguments_are_one_line(beadwatch, record, arguments, said):
    ran = beadwatch("joints", "verify", *arguments, "--store", record)
    assert ran.code == 3
    assert said in ran.err
    assert ran.err.count("\n") == 1


def test_keys_are_made_once_and_are_their_owners_alone(beadwatch, tmp_path):
    store = tmp_path / "new.db"
    assert beadwatch("key", "show", "--store", store).code == 5
    made = beadwatch("key", "init", "--store", store)
    assert made.code == 0
    assert beadwatch("key", "init", "--store", store).out == made.out
    assert beadwatch("key", "show", "--store", store).out == made.out
    folder = tmp_path / "new.db.keys"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()} == {0o600}
    pem = beadwatch("key", "export", "--store", store).out
    assert pem.startswith("-----BEGIN PUBLIC KEY-----")
    assert "PRIVATE" not in pem
    (folder / "live.pem").chmod(0o640)
    ran = beadwatch("key", "show", "--store", store)
    assert ran.code == 5
    assert "others can read this key" in ran.err


def test_a_renewed_key_is_told_and_followed(beadwatch, record, tmp_path):
    first = beadwatch("key", "show", "--store", record).out.splitlines()
    who = ("--by", "E. Weir", "--reason", "new quality manager")
    ran = beadwatch("key", "renew", *who, "--store", record)
    assert ran.code == 0, ran.err
    second = beadwatch("key", "show", "--store", record).out.splitlines()
    assert (ran.out.strip(), second[1]) == (second[0], first[1])
    assert first[0] != second[0]
    keys = [word for line in first for word in ("--key", line.split()[1])]
    ran = beadwatch("joints", "verify", "--all", *keys, "--store", record)
    assert (ran.code, "the key signs that the one before had named" in ran.out) == (0, True)
    with Reader(record) as reader:
        said = reader.statements_of(None)[-1]
    assert (said.kind, said.author, said.reason) == ("key_renewal", "E. Weir", "new quality manager")
    missing = beadwatch("key", "renew", *who, "--store", tmp_path / "none.db")
    assert (missing.code, "no keys yet" in missing.err, (tmp_path / "none.db").exists()) == (5, True, False)


def test_the_second_verifier_runs_by_itself(record):
    """In a process of its own that finds no Beadwatch."""
    script = ROOT / "configs" / "verifier" / "verify_record.py"
    text = script.read_text(encoding="utf-8")
    assert len(text.splitlines()) < 200
    assert not re.search(r"^(from|import) (logger|configs|tui|simulators)", text, re.MULTILINE)
    command = [sys.executable, "-P", str(script), str(record)]
    good = subprocess.run(command, cwd="/", env={}, capture_output=True, text=True, check=False)
    assert (good.returncode, good.stderr) == (0, "")
    assert "no fault" in good.stdout
    assert "Without --key" in good.stdout
    assert "Without --head" in good.stdout
    with Crime(record) as db:
        db.execute("UPDATE verdict SET verdict = 'conforming'")
    bad = subprocess.run(command, cwd="/", env={}, capture_output=True, text=True, check=False)
    assert (bad.returncode, bad.stderr) == (1, "")
    assert "verdict: not what link" in bad.stdout


def test_every_fault_has_a_text():
    used = set()
    for module in (proof, sealed, verify):
        with open(module.__file__, encoding="utf-8") as file:
            used |= set(
                re.findall(r'"((?:link|rows|samples|joint|import|record|schema|key|head)\.\w+)"', file.read())
            )
    assert len(used) > 18
    every = dict.fromkeys(("link", "table", "key", "count", "reason", "chain"), "x")
    for code in used:
        assert code in fault_text(Fault(code=code, parameters=every))


def test_bundles_of_two_rigs_into_one_office_record(beadwatch, tmp_path):
    bundles = []
    for k, first in enumerate((1, 11)):
        rig = tmp_path / f"rig-{k}.db"
        make_record(rig, joint_count=2, sample_count=30, first=first)
        with Reader(rig) as reader, zipfile.ZipFile(tmp_path / f"rig-{k}.zip", "w") as bundle:
            for index in (first, first + 1):
                bundle.writestr(f"{index}.sealed.json", reader.sealed_joint(live(index).uuid))
        bundles.append(tmp_path / f"rig-{k}.zip")
    office = tmp_path / "office.db"
    ran = beadwatch("joints", "import", *bundles, "--store", office)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.count("new links") == 4
    assert beadwatch("joints", "import", bundles[0], "--store", office).out.count("nothing new") == 2
    assert len(beadwatch("joints", "list", "--json", "--store", office).out.splitlines()) == 4
    assert "imported from another record" in beadwatch("joints", "show", "K-011", "--store", office).out
    assert beadwatch("joints", "verify", "--all", "--store", office).code == 0


def test_what_is_altered_is_not_imported_and_the_rest_is(beadwatch, record, tmp_path):
    with Reader(record) as reader:
        texts = [reader.sealed_joint(live(index).uuid) for index in (1, 2)]
    (tmp_path / "1.sealed.json").write_text(texts[0].replace("R. Amsel", "R. Meise"), encoding="utf-8")
    (tmp_path / "2.sealed.json").write_text(texts[1], encoding="utf-8")
    office = tmp_path / "office.db"
    ran = beadwatch("joints", "import", *tmp_path.glob("*.sealed.json"), "--store", office)
    assert ran.code == 5
    assert "1.sealed.json" in ran.err
    assert [line.split(",")[0] for line in ran.out.splitlines()] == [
        f"{tmp_path}/2.sealed.json: joint {live(2).uuid}"
    ]
    stranger = "--key", "0" * 32
    assert beadwatch("joints", "import", tmp_path / "2.sealed.json", *stranger, "--store", office).code == 5


def test_backup_and_restore_are_one_command_each(beadwatch, record, tmp_path):
    copy = tmp_path / "copy.db"
    ran = beadwatch("backup", copy, "--store", record)
    assert (ran.code, ran.out, ran.err) == (0, f"{copy}\n", "joints: 2, links: 13, verified\n")
    assert beadwatch("restore", copy, "--store", record).code == 5
    elsewhere = tmp_path / "elsewhere" / "record.db"
    assert beadwatch("restore", copy, "--store", elsewhere).code == 0
    assert (
        beadwatch("joints", "list", "--store", elsewhere).out
        == beadwatch("joints", "list", "--store", record).out
    )
