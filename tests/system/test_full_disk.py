"""The record's disk is full for a while: sampling goes on, and what waited is stored when there is room."""

import resource
from itertools import pairwise

import pytest

from tests.system.processes import Recorder, has_stalled, simulated

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]

PAGE_BYTES = 4096
"""Of the record: a file may not grow past its first page, be it the record, its log or its index."""


def test_sampling_goes_on_while_the_record_cannot_grow(folder):
    with simulated("clean", folder, time_scale=1.0) as rig:
        recorder = Recorder(folder / "r", rig.bus("tcp"), time_scale=1.0)
        with recorder.recording() as process:
            recorder.until(lambda _: len(recorder.samples()) > 5, "some samples are stored")
            unlimited = resource.prlimit(process.pid, resource.RLIMIT_FSIZE)
            resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (PAGE_BYTES, unlimited[1]))
            failing = recorder.until(lambda state: state.store.error != "", "the store says that it fails")
            later = recorder.until(
                lambda state: state.store.pending > failing.store.pending + 20, "samples wait in memory"
            )
            stored = len(recorder.samples())
            assert later.now_s > failing.now_s
            assert later.joint_uuid is not None
            assert all(channel.state == "present" for channel in later.channels)
            resource.prlimit(process.pid, resource.RLIMIT_FSIZE, unlimited)
            healed = recorder.until(lambda state: state.store.error == "", "the store works again")
            recorder.until(lambda _: len(recorder.samples()) > stored + later.store.pending, "all is stored")
            recorder.link.abort("enough")
    assert healed.store.dropped == 0
    assert recorder.end().how == "aborted"
    times = [sample.t_ms for sample in recorder.samples()]
    assert all(before < after for before, after in pairwise(times))
    assert has_stalled(recorder.samples()) is False
