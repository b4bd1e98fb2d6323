"""The recorder is killed at any moment: nothing that was committed is missing.

A kill leaves the system's page cache alone: this says nothing about a loss of power.
"""

import random
import subprocess
import sys
import threading
from pathlib import Path

import apsw
import pytest

from logger.domain.seal import SealState
from logger.errors import StoreError
from logger.store.reader import Reader
from logger.store.verify import verify_record
from logger.store.writer import Writer
from tests.unit.store.record_values import FINISHED, HEADER, OPENED, open_writer, sample

ROOT = Path(__file__).parents[3]
CHILD = Path(__file__).with_name("recording_child.py")

pytestmark = pytest.mark.system


def start_child(path, seed):
    return subprocess.Popen(
        [sys.executable, str(CHILD), str(path), str(seed)],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )


def killed_after(path, seed, line_count, delay_s):
    """Run the child, kill it `delay_s` after its `line_count`-th line, return the lines it printed whole."""
    with start_child(path, seed) as child:
        lines = [child.stdout.readline() for _ in range(line_count)]
        timer = threading.Timer(delay_s, child.kill)
        timer.start()
        lines += child.stdout.readlines()
        timer.join()
    return [line.split() for line in lines if line.endswith("\n")]


def test_after_kill_nothing_committed_is_missing(tmp_path):
    path = tmp_path / "record.db"
    chance = random.Random(11)
    committed = {}
    sealed = {}
    heads = []
    minutes = 0
    for seed in range(10):
        lines = killed_after(path, seed, chance.randint(1, 150), chance.uniform(0.0, 0.02))
        assert lines
        for what, joint_uuid, number in lines:
            (committed if what == "sample" else sealed)[joint_uuid] = int(number)

        Writer(path, at=OPENED).close()
        assert apsw.Connection(str(path)).execute("PRAGMA integrity_check").get == "ok"
        with Reader(path) as reader:
            for joint_uuid, last_ms in committed.items():
                found = reader.samples(joint_uuid)
                assert found == [sample(index) for index in range(len(found))]
                assert found[-1].t_ms >= last_ms
            for joint_uuid, sample_count in sealed.items():
                assert len(reader.samples(joint_uuid)) == sample_count
                assert reader.joint(joint_uuid).end == FINISHED
                seal = reader.seal_of(joint_uuid)
                assert seal.state is SealState.SEALED
                assert seal.minute_count == sample(sample_count - 1).t_ms // 60_000
                minutes += seal.minute_count
            assert len(reader.open_joints()) <= seed + 1
            heads.append(reader.chain_head())
        found = verify_record(path, heads=heads)
        assert found.faults == []
        waiting = [n.parameters["count"] for n in found.notes if n.code == "samples.unsealed"]
        assert all(count < 600 + 50 for count in waiting), (
            "more than a minute and a batch without a signature"
        )
    assert sealed, "no seal was reached: the kills came too early to show anything"
    assert minutes, "no minute was sealed: the kills came too early to show anything"


def test_a_reader_in_another_process_follows_and_a_second_writer_is_refused(tmp_path):
    path = tmp_path / "record.db"
    with start_child(path, 1) as child:
        seen = 0
        while seen < 20:
            what, joint_uuid, number = child.stdout.readline().split()
            with Reader(path) as reader:
                found = reader.samples(joint_uuid)
            assert found[-1].t_ms >= int(number) if what == "sample" else len(found) == int(number)
            seen += 1
        with pytest.raises(StoreError, match=f"already open for writing by process {child.pid}"):
            Writer(path, at=OPENED)
        child.kill()
    Writer(path, at=OPENED).close()


def test_samples_are_committed_by_themselves_without_a_flush(tmp_path):
    path = tmp_path / "record.db"
    writer = open_writer(path, interval_s=0.01)
    writer.open_joint(HEADER)
    writer.append(HEADER.uuid, sample(0))
    waiting = threading.Event()
    while writer.health().pending:
        waiting.wait(0.01)
    with Reader(path) as reader:
        assert reader.samples(HEADER.uuid) == [sample(0)]
    writer.close()
