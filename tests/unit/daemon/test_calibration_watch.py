"""A calibration that runs out while the recorder runs shows in its state and in its record."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from logger.config.rig_file import load_rig
from logger.daemon.calibration_watch import CalibrationWatch
from logger.daemon.clock import MachineClock
from logger.daemon.surface_message import surface_message
from logger.domain.channel import Quantity
from logger.domain.plate_surface import FaceCheck, SurfaceCheck
from logger.store.reader import Reader
from logger.wire.live import AlarmMessage
from tests.system.processes import DEMO
from tests.unit.api.recorder_bench import Bench, recorder_bench


class Calendar(MachineClock):
    day = 4

    def utc(self) -> datetime:
        return datetime(2031, 5, self.day, 12, tzinfo=UTC)


def told_once(watch: CalibrationWatch, bench: Bench, calendar: Calendar) -> AlarmMessage:
    """The one alarm that there is on the day after, however often somebody looks."""
    watch.look()
    assert bench.recorder.state().alarms == (), "on its last day it holds"
    calendar.day = 5
    for _ in range(3):
        watch.look()
    (alarm,) = bench.recorder.state().alarms
    return alarm


async def test_the_day_after_it_was_due_there_is_one_alarm(tmp_path: Path):
    rig = load_rig(DEMO / "rig.toml").rig
    channels = tuple(
        replace(channel, calibration_due="2031-05-04" if channel.quantity is Quantity.PRESSURE else "")
        for channel in rig.channels
    )
    calendar = Calendar()
    async with recorder_bench(tmp_path) as bench:
        watch = CalibrationWatch(replace(rig, channels=channels), bench.recorder, calendar)
        alarm = told_once(watch, bench, calendar)
        assert alarm.code == "calibration.overdue"
        assert "2031-05-04" in alarm.text
        bench.writer.flush()
        with Reader(tmp_path / "record.db") as reader:
            assert [event.code for event in reader.events(None)].count("calibration.overdue") == 1


async def test_the_plates_surface_is_overdue_alike(tmp_path: Path):
    rig = load_rig(DEMO / "rig.toml").rig
    faces = (FaceCheck(face="a", offset_K=-2.0, spread_K=1.0),)
    check = SurfaceCheck(measured_on="2030-11-02", instrument="T-9", faces=faces, due="2031-05-04")
    calendar = Calendar()
    async with recorder_bench(tmp_path) as bench:
        watch = CalibrationWatch(replace(rig, plate_surface=check), bench.recorder, calendar)
        alarm = told_once(watch, bench, calendar)
        assert alarm.code == "plate_surface.overdue"
        assert alarm.text == "plate surface: read on 2030-11-02, due again since 2031-05-04"
    seen = surface_message(replace(rig, plate_surface=check), "2031-05-05")
    assert (seen.age_days, seen.is_overdue, seen.instrument) == (184, True, "T-9")
    assert not surface_message(replace(rig, plate_surface=check), "2031-05-04").is_overdue
    assert surface_message(rig, "2031-05-05") is None
