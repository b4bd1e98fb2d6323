"""A key names its successor in the chain: who was given the old fingerprint follows it, nobody else can."""

import json
import stat
from dataclasses import replace

import pytest

from logger.domain.record import JointHeader
from logger.errors import StoreError
from logger.store.keys import Keys, KeyUse, fingerprint_of
from logger.store.reader import Reader
from logger.store.sealed import SealedJoint, verify_sealed
from logger.store.verify import verify_record
from tests.unit.store.record_values import EMITTED, ENDED, FINISHED, open_writer, sample
from tests.unit.store.sealed_records import SECOND, Crime, live, published, remark


def weld(writer, joint: JointHeader) -> None:
    writer.open_joint(joint)
    for index in range(30):
        writer.append(joint.uuid, sample(index))
    writer.close_joint(joint.uuid, FINISHED, EMITTED)


def first_key(path) -> str:
    return fingerprint_of(Keys.beside(path).public(KeyUse.LIVE))


@pytest.fixture
def renewed(tmp_path):
    """Joint 1 by the first key, 2 half and half, 3 by the second, 4 by the third; a word about 1 last."""
    path = tmp_path / "record.db"
    writer = open_writer(path)
    key = first_key(path)
    weld(writer, live(1))
    writer.open_joint(live(2))
    writer.append(live(2).uuid, sample(0))
    writer.flush()
    writer.renew_key(KeyUse.LIVE, ENDED)
    writer.close_joint(live(2).uuid, FINISHED, EMITTED)
    weld(writer, live(3))
    last = writer.renew_key(KeyUse.LIVE, ENDED)
    weld(writer, live(4))
    writer.append_statement(remark(live(1).uuid, "looked at again"))
    writer.end_run(ENDED, "stopped")
    writer.close()
    assert len({key, last, first_key(path)}) == 2
    return path, key, last


def sealed_files(path, folder):
    with Reader(path) as reader:
        for number in range(1, 5):
            file = folder / f"{number}.sealed.json"
            file.write_text(reader.sealed_joint(live(number).uuid), encoding="utf-8")
            yield file


def test_both_verifiers_follow_from_the_first_fingerprint(renewed, tmp_path):
    path, key, _ = renewed
    head = published(path).head
    found = verify_record(path, trusted=[key], heads=[head])
    assert found.faults == []
    assert [note.code for note in found.notes] == ["key.renewed"] * 2
    assert SECOND.verify([path], [key], [str(head)])[0] == []
    assert len(SECOND.uses_of_key) == 3
    for file in sealed_files(path, tmp_path):
        assert verify_sealed(file.read_text(), trusted=[key]).faults == [], file
        assert SECOND.verify([file], [key])[0] == [], file


def test_a_stranger_without_the_first_fingerprint_does_not(renewed, tmp_path):
    path, key, last = renewed
    assert {fault.code for fault in verify_record(path, trusted=["0" * 32]).faults} == {"link.key"}
    assert SECOND.verify([path], ["0" * 32])[0]
    assert verify_record(path).faults == [], "each change of key is one that was told"
    *_, fourth = sealed_files(path, tmp_path)
    assert verify_sealed(fourth.read_text(), trusted=[last]).faults == [], "opened by it"
    assert verify_record(path, trusted=[last]).faults, "the record began with another"
    assert key != last


def test_the_old_key_is_gone_and_the_new_one_its_owners_alone(renewed):
    path, _, last = renewed
    folder = path.with_name(path.name + ".keys")
    assert sorted(file.name for file in folder.iterdir()) == ["demonstration.pem", "live.pem"]
    assert {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()} == {0o600}
    assert first_key(path) == last


def test_the_other_key_stays_what_it_was(tmp_path):
    path = tmp_path / "record.db"
    writer = open_writer(path)
    before = Keys.beside(path).public(KeyUse.DEMONSTRATION)
    writer.renew_key(KeyUse.LIVE, ENDED)
    weld(writer, replace(live(1), time_scale=10.0))
    writer.close()
    assert Keys.beside(path).public(KeyUse.DEMONSTRATION) == before
    assert verify_record(path).is_good


def old_key_goes_on(path) -> None:
    """A link at the end of the chain, signed by the key that had named its successor."""
    with Crime(path) as db:
        rows = db.execute("SELECT chain, seq, body FROM link ORDER BY seq").fetchall()
        chain, seq, body = rows[-1]
        old = json.loads(rows[0][2])
        link = json.loads(body) | {"seq": seq + 1, "key": old["key"], "previous": "0" * 64, "rows": {}}
        text = json.dumps(link, sort_keys=True, separators=(",", ":"))
        db.execute("INSERT INTO link VALUES (?, ?, '', ?, ?)", (chain, seq + 1, text, b"0" * 64))


def forged(path, change) -> None:
    """Change the link by which the first key names the second."""
    with Crime(path) as db:
        for rowid, body, signature in db.execute("SELECT rowid, body, signature FROM link").fetchall():
            link = json.loads(body)
            if link["kind"] == "key":
                change(link)
                text = json.dumps(link, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
                db.execute(
                    "UPDATE link SET body = ?, signature = ? WHERE rowid = ?", (text, signature, rowid)
                )
                return


@pytest.mark.parametrize(
    "change",
    [
        lambda link: link.update(next="00" * 32),
        lambda link: link.update(next_signature="00" * 64),
        lambda link: link.pop("next"),
        lambda link: link.update(use="demonstration"),
    ],
)
def test_a_forged_announcement_is_found_by_both(renewed, change):
    path, key, _ = renewed
    forged(path, change)
    assert verify_record(path, trusted=[key]).faults
    assert SECOND.verify([path], [key])[0]


def test_a_key_that_named_its_successor_signs_no_more(renewed):
    path, key, _ = renewed
    old_key_goes_on(path)
    assert "key.retired" in {fault.code for fault in verify_record(path, trusted=[key]).faults}
    assert any("a key given up" in fault for fault in SECOND.verify([path], [key])[0])


def test_an_announcement_of_another_record_is_no_use(renewed, tmp_path):
    """Somebody gives his own joint the words by which the rig's key named its successor."""
    path, key, _ = renewed
    with Reader(path) as reader:
        theirs = SealedJoint.read(reader.sealed_joint(live(3).uuid))
    announced = json.loads(theirs.all_links[0].body)["announced"]
    other = tmp_path / "other.db"
    writer = open_writer(other)
    weld(writer, live(9))
    chain = writer._ledger._chain
    chain._announced = dict.fromkeys(KeyUse, announced)
    weld(writer, live(10))
    writer.close()
    with Reader(other) as reader:
        text = reader.sealed_joint(live(10).uuid)
    (tmp_path / "x.sealed.json").write_text(text)
    assert verify_sealed(text, trusted=[key]).faults
    assert SECOND.verify([tmp_path / "x.sealed.json"], [key])[0]


def test_a_stop_between_the_link_and_the_key_is_made_good_at_the_next_start(tmp_path):
    """The link is committed, the new key still lies beside the old one."""
    path = tmp_path / "record.db"
    writer = open_writer(path)
    key = first_key(path)
    folder = path.with_name(path.name + ".keys")
    old = (folder / "live.pem").read_bytes()
    new = writer.renew_key(KeyUse.LIVE, ENDED)
    writer.close()
    (folder / "live.pem").rename(folder / "live.next.pem")
    (folder / "live.pem").write_bytes(old)
    (folder / "live.pem").chmod(0o600)
    writer = open_writer(path)
    weld(writer, live(1))
    writer.close()
    assert first_key(path) == new
    assert verify_record(path, trusted=[key]).is_good


def test_an_old_key_put_back_signs_nothing(tmp_path):
    path = tmp_path / "record.db"
    writer = open_writer(path)
    folder = path.with_name(path.name + ".keys")
    old = (folder / "live.pem").read_bytes()
    writer.renew_key(KeyUse.LIVE, ENDED)
    writer.close()
    (folder / "live.pem").write_bytes(old)
    with pytest.raises(StoreError, match="was renewed, and the new one is not here"):
        open_writer(path)


def test_an_office_takes_joints_from_before_and_after_in_any_order(renewed, tmp_path):
    path, key, _ = renewed
    files = list(sealed_files(path, tmp_path))
    for order in (files, files[::-1], [files[2], files[0], files[3], files[1]]):
        office = tmp_path / f"office-{order[0].name}.db"
        writer = open_writer(office)
        for file in order:
            assert writer.import_joint(SealedJoint.read(file.read_text()), ENDED) > 0
        writer.close()
        keys = [key, *published(office).keys]
        assert verify_record(office, trusted=keys).is_good
        assert SECOND.verify([office], keys)[0] == []
