"""The store fails while the recorder works: what was sampled waits, and stands in the record in the end."""

import asyncio
from itertools import pairwise

import pytest

from logger.errors import StoreError
from logger.store.reader import Reader
from tests.drawn import Drawn, draw_joint
from tests.unit.daemon.bench import Bench, joint_text


@pytest.fixture
def bench(tmp_path):
    bench = Bench(tmp_path)
    yield bench
    bench.disk.is_bad = False
    bench.writer.close()


def whole_joint() -> Drawn:
    drawn = draw_joint(cooling_s=80.0, soak_s=60.0, preparation=False)
    end_s = drawn.corners[-1][0] + 200.0
    return Drawn((*drawn.corners[:-1], (end_s, 0.0)), drawn.truth)


async def until_opened(bench: Bench) -> None:
    while bench.recorder.open_record is None or not bench.recorder.open_record.is_open:
        await asyncio.sleep(0.01)


async def test_an_unnamed_joint_that_opens_on_a_failing_store_is_stored_whole_later(bench):
    drawn = whole_joint()
    samples = drawn.samples()
    touch_s = drawn.truth["pressure_build_up"][0]
    before = [s for s in samples if s.t_s < touch_s + 60.0]
    bench.disk.is_bad = True
    await bench.take(before)
    opened = bench.recorder.open_record
    assert opened is not None
    assert not opened.is_open
    while not opened.waits_for:
        await asyncio.sleep(0.01)
    store = bench.recorder.state().store
    assert store.error
    assert store.pending > len(before) - 20
    bench.disk.is_bad = False
    await bench.take(s for s in samples if touch_s + 60.0 <= s.t_s < touch_s + 70.0)
    await until_opened(bench)
    await bench.take(s for s in samples if s.t_s >= touch_s + 70.0)
    await bench.recorder.settled()
    with Reader(bench.store) as reader:
        (record,) = reader.list_joints()
        stored = reader.samples(record.header.uuid)
        codes = [event.code for event in reader.events(record.header.uuid)]
    assert record.number is None
    assert record.end is not None
    assert len(stored) > len(before)
    assert {after.t_ms - before.t_ms for before, after in pairwise(stored)} == {100}
    assert "phase.revised" in codes


async def test_a_named_joint_that_cannot_be_opened_gives_its_samples_back_to_the_watch(bench):
    samples = whole_joint().samples()
    bench.disk.is_bad = True
    opening = asyncio.create_task(bench.recorder.start_joint(joint_text(drag='drag_pressure = "8 bar"')))
    await asyncio.sleep(0)
    await bench.take(samples[:300], pause_every=1000)
    assert bench.recorder.open_record is not None
    with pytest.raises(StoreError):
        await opening
    assert bench.recorder.open_record is None
    bench.disk.is_bad = False
    await bench.take(samples[300:])
    await bench.recorder.settled()
    with Reader(bench.store) as reader:
        (record,) = reader.list_joints()
        stored = reader.samples(record.header.uuid)
    assert record.number is None
    assert len(stored) > 0.8 * len(samples)
    assert {after.t_ms - before.t_ms for before, after in pairwise(stored)} == {100}


async def test_stopping_while_the_store_fails_does_not_wait_for_ever(bench):
    drawn = whole_joint()
    bench.disk.is_bad = True
    await bench.take(s for s in drawn.samples() if s.t_s < drawn.truth["cooling"][0] + 60.0)
    await bench.recorder.settled(patience_s=0.05)
    assert bench.recorder.open_record is not None
    bench.disk.is_bad = False
    await bench.recorder.settled()
    assert bench.recorder.open_record.is_open
