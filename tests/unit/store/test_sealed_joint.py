"""The file of a sealed joint: one form, every bit covered, and no mutation that a verifier falls over."""

import json
import os
from dataclasses import dataclass
from pathlib import Path
from random import Random

import pytest

from logger.domain.seal import ChainHead
from logger.errors import StoreError
from logger.store.reader import Reader
from logger.store.sealed import SealedJoint, verify_sealed
from tests.conftest import FULL_SIZE
from tests.unit.store.record_values import HEADER, open_writer, sample
from tests.unit.store.sealed_records import SECOND, live, make_record

UUID = live(1).uuid
FUZZED = int(os.environ.get("BEADWATCH_FUZZED_FILES", "3000"))


@dataclass(frozen=True)
class Sealed:
    text: str
    keys: tuple[str, ...]
    end: ChainHead
    record: Path


@pytest.fixture(scope="module")
def sealed(tmp_path_factory):
    path = tmp_path_factory.mktemp("sealed") / "record.db"
    published = make_record(path, joint_count=1, sample_count=12)
    with Reader(path) as reader:
        return Sealed(reader.sealed_joint(UUID), published.keys, reader.seal_of(UUID).end, path)


def second(path, data: bytes, sealed) -> list[str]:
    path.write_bytes(data)
    return list(SECOND.verify([path], sealed.keys)[0])


def first(data: bytes, sealed) -> list:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as err:
        return [err]
    return verify_sealed(text, trusted=sealed.keys).faults


def test_the_file_itself_is_good_and_reads_back(sealed, tmp_path):
    assert verify_sealed(sealed.text, trusted=sealed.keys, heads=[sealed.end]).is_good
    assert second(tmp_path / "joint.json", sealed.text.encode(), sealed) == []
    assert SealedJoint.read(sealed.text).text() == sealed.text
    document = json.loads(sealed.text)
    assert document["schema"] == "beadwatch.sealed-joint/1"
    assert len(document["rows"]["finding"]) == 2


@pytest.mark.timeout(900)
def test_every_single_bit_is_covered(sealed, tmp_path):
    """One bit of every byte, at full size all of them: data, header, links and signatures; both verifiers."""
    data = bytearray(sealed.text.encode())
    file = tmp_path / "joint.json"
    for at in range(len(data)):
        for bit in range(8) if FULL_SIZE or at % 64 == 0 else (at % 8,):
            data[at] ^= 1 << bit
            assert first(bytes(data), sealed), (at, bit)
            assert second(file, bytes(data), sealed), (at, bit)
            data[at] ^= 1 << bit
    assert first(bytes(data), sealed) == []


def mutated(data: bytes, chance: Random) -> bytes:
    """Flip, drop, double, move or replace stretches of a file, once or a few times."""
    out = bytearray(data)
    for _ in range(chance.choice([1, 1, 2, 5])):
        at, to = sorted(chance.randrange(len(out) + 1) for _ in range(2))
        to = min(to, at + chance.choice([1, 8, 300, 10_000]))
        piece = bytes(out[at:to])
        match chance.randrange(6):
            case 0:
                out[at:to] = b""
            case 1:
                out[at:at] = piece
            case 2:
                out[at:to] = chance.randbytes(len(piece))
            case 3:
                out[at:to] = piece[::-1]
            case 4:
                out[at:to] = chance.choice(
                    [b"[" * 5000, b"null", b"1e999", b'{"a":', b"-1", b"\xff", b"9" * 5000]
                )
            case _:
                other = chance.randrange(len(out) + 1)
                out[other:other] = piece
        if not out:
            out = bytearray(b"{}")
    return bytes(out)


def test_no_mutated_file_makes_a_verifier_fall_over_or_passes(sealed, tmp_path):
    data = sealed.text.encode()
    file = tmp_path / "joint.json"
    for seed in range(FUZZED):
        changed = mutated(data, Random(seed))
        if changed != data:
            assert first(changed, sealed), seed
            assert second(file, changed, sealed), seed


def test_no_mutated_record_makes_a_verifier_fall_over(sealed, tmp_path):
    """A changed byte of a database may lie where nothing is kept: only that nothing crashes is asked here."""
    from logger.store.verify import verify_record

    data = sealed.record.read_bytes()
    found = 0
    for seed in range(FUZZED // 20):
        file = tmp_path / f"record-{seed}.db"
        file.write_bytes(mutated(data, Random(seed)))
        try:
            found += not verify_record(file, trusted=sealed.keys).is_good
        except StoreError:
            found += 1
        SECOND.verify([file], sealed.keys)
        file.unlink()
    assert found > FUZZED // 40


def test_text_that_no_file_can_hold_is_a_fault_too(sealed):
    for text in (
        "\ud800",
        sealed.text.replace("R. Amsel", "\ud800"),
        sealed.text.replace("R. Amsel", "\\ud800"),
    ):
        assert [fault.code for fault in verify_sealed(text).faults] == ["unreadable"]


def test_a_number_beyond_all_numbers_is_a_fault_too(sealed):
    (fault,) = verify_sealed(sealed.text.replace("9.1", "1e999", 1)).faults
    assert fault.code == "unreadable"


def test_a_head_that_the_file_does_not_hold_is_a_fault(sealed, tmp_path):
    later = ChainHead(chain=sealed.end.chain, seq=sealed.end.seq + 40, hash=sealed.end.hash)
    other = ChainHead(chain=sealed.end.chain, seq=sealed.end.seq, hash="0" * 64)
    (tmp_path / "joint.json").write_text(sealed.text)
    for head, code in ((later, "head.missing"), (other, "head.differs")):
        (fault,) = verify_sealed(sealed.text, heads=[head]).faults
        assert fault.code == code
        assert SECOND.verify([tmp_path / "joint.json"], (), [str(head)])[0]


def test_an_open_and_an_unknown_joint_have_no_such_file(tmp_path):
    writer = open_writer(tmp_path / "record.db")
    writer.open_joint(HEADER)
    writer.append(HEADER.uuid, sample(0))
    writer.flush()
    with Reader(tmp_path / "record.db") as reader:
        with pytest.raises(StoreError, match="still open"):
            reader.sealed_joint(HEADER.uuid)
        with pytest.raises(StoreError, match="not in the record"):
            reader.sealed_joint("nowhere")
    writer.close()
