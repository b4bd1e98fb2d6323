"""The disk fails: sampling goes on, health says so, and nothing that was acknowledged is lost."""

from itertools import count

import apsw
import pytest

from logger.domain.record import EventKind
from logger.errors import StoreError
from logger.store.connection import open_for_writing
from logger.store.intake import SAMPLES_DROPPED
from logger.store.reader import Reader
from logger.store.writer import CAPACITY, Writer
from tests.unit.store.record_values import EMITTED, FINISHED, HEADER, OPENED, RUN, open_writer, sample


@pytest.fixture
def path(in_memory):
    return in_memory / "record.db"


class SmallDisk:
    """Opens the record on a disk with room for `pages`; more room takes effect at the next opening."""

    def __init__(self):
        self.pages = 10_000

    def __call__(self, path):
        connection = open_for_writing(path)
        connection.pragma("max_page_count", self.pages)
        self.connection = connection
        return connection

    def fill(self):
        """SQLite takes the present size of the file where the number is below it."""
        self.pages = self.connection.pragma("max_page_count", 1)


def test_a_full_disk_is_health_not_a_crash_and_the_samples_wait(path):
    disk = SmallDisk()
    writer = open_writer(path, connect=disk)
    writer.open_joint(HEADER)
    for index in range(10):
        writer.append(HEADER.uuid, sample(index))
    writer.flush()
    assert writer.health().is_good
    disk.fill()
    for index in range(10, 6_000):
        writer.append(HEADER.uuid, sample(index))
    for _ in range(3):
        with pytest.raises(StoreError, match="full"):
            writer.flush()
    health = writer.health()
    assert not health.is_good
    assert "full" in health.error
    assert health.dropped == 0
    assert health.pending == 5_990
    with Reader(path) as reader:
        assert reader.samples(HEADER.uuid) == [sample(index) for index in range(10)]
        with pytest.raises(StoreError, match="full"):
            writer.close_joint(HEADER.uuid, FINISHED, EMITTED)
        writer.append(HEADER.uuid, sample(6_000))
        disk.pages = 10_000
        writer.close_joint(HEADER.uuid, FINISHED, EMITTED)
        assert writer.health().is_good
        assert reader.samples(HEADER.uuid) == [sample(index) for index in range(6_001)]
    writer.close()


def test_samples_without_room_are_counted_and_stand_in_the_record_as_a_gap(path):
    disk = SmallDisk()
    writer = open_writer(path, connect=disk, capacity=100)
    writer.open_joint(HEADER)
    for index in range(130):
        writer.append(HEADER.uuid, sample(index))
    assert writer.health().pending == 100
    assert writer.health().dropped == 30
    writer.flush()
    writer.append(HEADER.uuid, sample(130))
    writer.close_joint(HEADER.uuid, FINISHED, None)
    with Reader(path) as reader:
        assert reader.samples(HEADER.uuid) == [sample(index) for index in [*range(100), 130]]
        (event,) = reader.events(HEADER.uuid)
    assert (event.kind, event.code, event.t_ms) == (EventKind.GAP, SAMPLES_DROPPED, 10_000)
    assert event.parameters == {"count": 30, "from_ms": 10_000, "to_ms": 12_900}
    assert writer.health().dropped == 30
    writer.close()


def test_the_room_holds_a_minute_of_the_fastest_sampling():
    assert CAPACITY >= 60 * 50


def test_closing_on_a_full_disk_says_what_was_lost_and_frees_the_record(path):
    disk = SmallDisk()
    writer = open_writer(path, connect=disk)
    writer.open_joint(HEADER)
    disk.fill()
    for index in range(6_000):
        writer.append(HEADER.uuid, sample(index))
    with pytest.raises(StoreError, match=r"closed with 6000 samples not stored: .*full"):
        writer.close()
    Writer(path, at=OPENED).close()


def test_a_failing_store_is_logged_once_and_its_recovery_once(path, caplog):
    disk = SmallDisk()
    writer = open_writer(path, connect=disk)
    writer.open_joint(HEADER)
    disk.fill()
    caplog.set_level("INFO", "logger.store.writer")
    for index in range(6_000):
        writer.append(HEADER.uuid, sample(index))
    for _ in range(3):
        with pytest.raises(StoreError):
            writer.flush()
    disk.pages = 10_000
    writer.flush()
    assert [record.levelname for record in caplog.records] == ["WARNING", "INFO"]
    writer.close()


class FaultyFile(apsw.VFSFile):
    """A file whose writes and syncs fail from the chosen one on."""

    def __init__(self, faults, filename, flags):
        self._faults = faults
        super().__init__("", filename, flags)

    def xWrite(self, data, offset):
        self._faults.step()
        super().xWrite(data, offset)

    def xSync(self, flags):
        self._faults.step()
        super().xSync(flags)


class FaultyDisk(apsw.VFS):
    """Fails the `failing`-th write or sync, and all after it when `is_sticky`, until mended."""

    def __init__(self, failing, *, is_sticky):
        self.name = f"faulty-{failing}-{is_sticky}"
        self.failing, self.is_sticky, self.steps, self.hits = failing, is_sticky, 0, 0
        super().__init__(self.name, "")

    def mend(self):
        self.failing = 0

    def step(self):
        self.steps += 1
        if self.steps == self.failing or (self.is_sticky and self.steps > self.failing > 0):
            self.hits += 1
            raise apsw.IOError("injected")

    def xOpen(self, name, flags):
        return FaultyFile(self, name, flags)

    def connect(self, path):
        connection = apsw.Connection(str(path), vfs=self.name)
        connection.pragma("journal_mode", "wal")
        connection.pragma("synchronous", "full")
        connection.pragma("foreign_keys", "on")
        return connection


@pytest.mark.parametrize("is_sticky", [False, True])
def test_no_write_or_sync_may_fail_so_that_an_acknowledged_sample_is_lost(path, is_sticky):
    """Fail the first, the second, ... write or sync of a record until it runs through without a failure."""
    for failing in count(1):
        disk = FaultyDisk(failing, is_sticky=is_sticky)
        path = path.with_name(f"record-{failing}.db")
        weld_one_joint(path, disk)
        with Reader(path) as reader:
            assert reader.samples(HEADER.uuid) == [sample(index) for index in range(30)]
            assert reader.joint(HEADER.uuid).judgement_text == EMITTED.text
            assert reader.open_joints() == []
        if disk.hits == 0:
            assert failing > 50
            return


def weld_one_joint(path, disk):
    """A step that fails is repeated once, on a disk that works again."""

    def twice(step):
        try:
            return step()
        except StoreError:
            disk.mend()
            return step()

    writer = twice(lambda: Writer(path, at=OPENED, interval_s=3600.0, connect=disk.connect))
    twice(lambda: writer.start_run(RUN))
    twice(lambda: writer.open_joint(HEADER))
    for start in (0, 10, 20):
        for index in range(start, start + 10):
            writer.append(HEADER.uuid, sample(index))
        twice(writer.flush)
    twice(lambda: writer.close_joint(HEADER.uuid, FINISHED, EMITTED))
    writer.close()
