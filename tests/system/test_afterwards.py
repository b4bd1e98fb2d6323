"""Corrections, attachments, opinions and imports while the recorder runs: through it, into its one chain."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.daemon.plate_watch import PLATE_HEAT
from logger.domain.record import Statement
from logger.store.keys import Keys, KeyUse, fingerprint_of
from logger.store.reader import Reader
from logger.store.verify import verify_record
from tests.system.processes import JOINT, JOINT_FILE, Recorder, beadwatch, simulated
from tests.unit.store.sealed_records import live, make_record

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]


@pytest.fixture
def recorder(folder: Path) -> Iterator[Recorder]:
    """A recorder on a standing rig with one joint broken off, and running on."""
    with simulated("clean", folder, time_scale=1.0) as rig:
        one = Recorder(folder / "one", rig.bus("tcp"), time_scale=1.0)
        with one.recording(joint_file=None):
            assert beadwatch("start", JOINT_FILE, "--socket", one.socket).returncode == 0
            one.until(lambda state: state.now_s > 1.0, "some samples")
            assert beadwatch("abort", "--reason", "tried", "--socket", one.socket).returncode == 0
            yield one


def said_by_people(reader: Reader, uuid: str) -> list[Statement]:
    """Without what the recorder itself stored of the plate as it opened the joint."""
    return [one for one in reader.statements_of(uuid) if one.kind != PLATE_HEAT]


def test_all_that_is_said_afterwards_goes_through_the_running_recorder(recorder, folder):
    place = ["--store", recorder.store, "--socket", recorder.socket]
    who = ["--by", "E. Weir", "--reason", "typing error"]
    done = beadwatch("joints", "correct", JOINT, "--what", "place", "--value", "Weir Lane", *who, *place)
    assert done.returncode == 0, done.stderr
    picture = folder / "bead.jpg"
    picture.write_bytes(b"\xff\xd8 a bead")
    done = beadwatch("joints", "attach", JOINT, picture, "--by", "N. Holt", *place)
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.strip()).read_bytes() == picture.read_bytes()
    done = beadwatch("rejudge", JOINT, "--plain", "--save", *who, *place)
    assert done.returncode == 0, done.stderr

    other = folder / "other.db"
    make_record(other, joint_count=1, sample_count=40)
    with Reader(other) as reader:
        bundle = folder / "k.sealed.json"
        bundle.write_text(reader.sealed_joint(live(1).uuid), encoding="utf-8")
    key = fingerprint_of(Keys.beside(other).public(KeyUse.LIVE))
    done = beadwatch("joints", "import", bundle, "--key", "0" * 32, *place)
    assert done.returncode == 5, "a key that was not given"
    done = beadwatch("joints", "import", bundle, "--key", key, *place)
    assert done.returncode == 0, done.stderr
    assert "nothing new" in beadwatch("joints", "import", bundle, "--key", key, *place).stdout

    assert recorder.state().store.error == "", "the recorder went on"
    with Reader(recorder.store) as reader:
        uuid = reader.joint(JOINT).header.uuid
        said = [(one.kind, one.author) for one in said_by_people(reader, uuid)]
        assert reader.joint(live(1).uuid).header.uuid == live(1).uuid
    assert said == [("correction", "E. Weir"), ("attachment", "N. Holt"), ("opinion", "E. Weir")]
    assert verify_record(recorder.store).is_good


def test_the_recorder_refuses_what_a_command_would_be_refused(recorder, folder):
    place = ["--store", recorder.store, "--socket", recorder.socket]
    bad = folder / "bad.sealed.json"
    bad.write_text("{}\n")
    done = beadwatch("joints", "import", bad, *place)
    assert done.returncode == 5
    assert f"{bad}: " in done.stderr
    words = ["--what", "place", "--value", "x", "--by", "N", "--reason", ""]
    done = beadwatch("joints", "correct", JOINT, *words, *place)
    assert (done.returncode, "reason" in done.stderr) == (3, True)


def test_another_record_is_written_without_the_recorder(recorder, folder):
    """The recorder that answers writes its own record, not this one."""
    other = folder / "other.db"
    make_record(other, joint_count=1, sample_count=4)
    who = ["--by", "E. Weir", "--reason", "typing error"]
    words = ["joints", "correct", live(1).uuid, "--what", "place", "--value", "x", *who]
    done = beadwatch(*words, "--store", other, "--socket", recorder.socket)
    assert done.returncode == 0, done.stderr
    with Reader(other) as reader:
        *_, statement = reader.statements_of(live(1).uuid)
    assert dict(statement.body) == {"what": "place", "value": "x"}
    with Reader(recorder.store) as reader:
        assert said_by_people(reader, reader.joint(JOINT).header.uuid) == []
