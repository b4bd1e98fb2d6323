"""Whatever people write and devices send: it is sealed, both verifiers prove it, and it comes over whole."""

import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from logger.domain.channel import Quantity
from logger.domain.record import EventKind, RecordEvent, Statement
from logger.domain.sample import RawReading, RawSample
from logger.store.reader import Reader
from logger.store.sealed import SealedJoint, verify_sealed
from logger.store.verify import verify_record
from tests.unit.store.record_values import EMITTED, ENDED, FINISHED, open_writer
from tests.unit.store.sealed_records import SECOND, live, published

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)
numbers = st.one_of(
    st.integers(-(2**63), 2**63 - 1), st.floats(allow_nan=False, allow_infinity=False), st.just(-0.0)
)
bodies = st.dictionaries(
    texts,
    st.recursive(
        st.one_of(st.none(), st.booleans(), numbers, texts), lambda inner: st.lists(inner, max_size=3)
    ),
    max_size=4,
)
readings = st.builds(RawReading, quantity=st.sampled_from(list(Quantity)), raw=st.integers(-(2**70), 2**70))
samples = st.lists(
    st.builds(
        RawSample,
        t_ms=st.integers(0, 2**40),
        half_width_ms=st.integers(0, 10_000),
        readings=st.lists(readings, max_size=4).map(tuple),
    ),
    max_size=20,
)


@settings(max_examples=40, deadline=None)
@given(texts, texts, bodies, st.floats(allow_nan=False, allow_infinity=False), samples)
def test_anything_is_proven_and_comes_over_whole(operator, text, body, at_s, polls):
    with tempfile.TemporaryDirectory() as folder:
        path, office = Path(folder) / "record.db", Path(folder) / "office.db"
        joint = replace(live(1), operator=operator, rig_toml=text, project=text)
        said = Statement(
            kind="remark", author=operator, at=ENDED, body=body, joint_uuid=joint.uuid, at_s=at_s, reason=text
        )
        writer = open_writer(path)
        writer.open_joint(joint)
        for poll in polls:
            writer.append(joint.uuid, poll)
        event = RecordEvent(kind=EventKind.COMMAND, code=text, at=ENDED, parameters={text: at_s})
        writer.append_event(joint.uuid, event)
        writer.append_statement(said)
        writer.close_joint(joint.uuid, FINISHED, EMITTED)
        writer.close()

        keys = published(path).keys
        assert verify_record(path, trusted=keys).faults == []
        assert SECOND.verify([path], keys)[0] == []
        with Reader(path) as reader:
            file = reader.sealed_joint(joint.uuid)
            before = reader.samples(joint.uuid), reader.events(joint.uuid), reader.statements_of(joint.uuid)
        assert before[0] == polls
        assert verify_sealed(file, trusted=keys).faults == []
        (Path(folder) / "joint.json").write_bytes(file.encode("utf-8"))
        assert SECOND.verify([Path(folder) / "joint.json"], keys)[0] == []

        writer = open_writer(office)
        writer.import_joint(SealedJoint.read(file), ENDED)
        writer.close()
        with Reader(office) as reader:
            after = reader.samples(joint.uuid), reader.events(joint.uuid), reader.statements_of(joint.uuid)
            assert reader.sealed_joint(joint.uuid) == file
        assert after == before
