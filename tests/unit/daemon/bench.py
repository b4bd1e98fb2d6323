"""A recorder on a bench: a clock that is set by hand, a curve drawn by hand, a record in a folder."""

import asyncio
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

import apsw

from logger.config.rig_file import rig_of
from logger.daemon.clock import boot_id
from logger.daemon.recorder import Recorder
from logger.domain.channel import Quantity
from logger.domain.record import RecorderRun, Stamp
from logger.domain.sample import RawReading, RawSample, Sample
from logger.store.connection import open_for_writing
from logger.store.writer import Writer

STEP_BAR = 0.001
RIG_TEXT = """\
name = "bench"
cylinder_area = "1414 mm2"
gauge_side = "line"
origin = "simulated"

[bus.none]
kind = "modbus-tcp"
host = "127.0.0.1"

[channel.pressure]
bus = "none"
unit_id = 1
table = "holding"
address = 0
type = "int32"
gain = "0.001 bar"
"""
JOINT_TEXT = """\
joint = "{number}"
procedure = "dvs-2207-1:2015"
ambient_temperature = "20 degC"
{drag}
[pipe]
material = "PE100"
outside_diameter = "110 mm"
sdr = 11
"""


class SetClock:
    """Stands where it was set."""

    time_scale = 1.0

    def __init__(self, mono_s: float = 1000.0) -> None:
        self.now_s = mono_s

    def mono_s(self) -> float:
        return self.now_s

    def utc(self) -> datetime:
        return datetime.fromtimestamp(self.now_s, UTC)

    async def sleep(self, seconds: float) -> None:
        await asyncio.sleep(0)

    def stamp(self) -> Stamp:
        return Stamp(mono_ms=round(self.now_s * 1000), utc="2031-05-04T07:00:00.000Z")


class BadDisk:
    """Opens the record on a disk that fails every write while `is_bad`."""

    is_bad = False

    def __call__(self, path: Path) -> apsw.Connection:
        connection = open_for_writing(path)
        connection.set_authorizer(self._may)
        return connection

    def _may(self, operation: int, table: str | None, *_: str | None) -> int:
        refused = self.is_bad and operation in (apsw.SQLITE_INSERT, apsw.SQLITE_DELETE)
        return apsw.SQLITE_DENY if refused else apsw.SQLITE_OK


class Bench:
    def __init__(self, folder: Path) -> None:
        self.store = folder / "record.db"
        self.disk = BadDisk()
        self.clock = SetClock()
        self.installation = rig_of(RIG_TEXT)
        self.writer = Writer(self.store, at=self.clock.stamp(), interval_s=0.02, connect=self.disk)
        self.writer.start_run(
            RecorderRun(
                boot_id=boot_id(),
                started=self.clock.stamp(),
                software="0",
                time_scale=1.0,
                clock_source="set",
            )
        )
        self.recorder = self.new_recorder()

    def new_recorder(self) -> Recorder:
        return Recorder(self.installation, RIG_TEXT, self.clock, self.writer)  # type: ignore[arg-type]

    async def take(
        self, samples: Iterable[Sample], from_s: float = 1000.0, *, pause_every: int = 200
    ) -> None:
        """Polls as they come in, the clock going along; the loop gets its turn now and then."""
        for index, sample in enumerate(samples):
            self.clock.now_s = from_s + sample.t_s
            self.recorder.on_sample(raw_of(sample, self.clock.now_s))
            if index % pause_every == 0:
                await asyncio.sleep(0)


def raw_of(sample: Sample, mono_s: float) -> RawSample:
    raw = round((sample.pressure_bar or 0.0) / STEP_BAR) & 0xFFFFFFFF
    reading = RawReading(quantity=Quantity.PRESSURE, raw=raw)
    return RawSample(t_ms=round(mono_s * 1000), half_width_ms=2, readings=(reading,))


def joint_text(number: str = "D-1", drag: str = "") -> str:
    return JOINT_TEXT.format(number=number, drag=drag)
