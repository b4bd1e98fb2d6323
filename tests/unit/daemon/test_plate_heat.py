"""The plate warms up before a joint is entered: counted, kept with the joint, judged again alike."""

from dataclasses import replace
from pathlib import Path

import pytest

from logger.config.rig_file import load_rig
from logger.daemon.joint_files import setting_of
from logger.daemon.recorder import Recorder
from logger.daemon.surface_message import KEPT_S, HandSurfaces
from logger.domain.channel import Quantity
from logger.domain.hand_reading import HandReading
from logger.domain.heat_through import Heat
from logger.domain.phase import Phase
from logger.domain.plate_known import PlateKnown
from logger.domain.sample import RawReading, RawSample
from logger.session.state import Setting, opened
from logger.store.reader import Reader
from tests.system.processes import DEMO
from tests.unit.api.recorder_bench import Bench, recorder_bench

PER_DEGC = 10


def plate(bench: Bench, degC: float, before_s: float) -> None:
    """One reading of the plate, so long before now."""
    reading = RawReading(quantity=Quantity.PLATE_TEMPERATURE, raw=round(degC * PER_DEGC))
    t_ms = round((bench.recorder._clock.mono_s() - before_s) * 1000)
    bench.recorder.on_sample(RawSample(t_ms=t_ms, half_width_ms=1, readings=(reading,)))


def warm_up(bench: Bench, *, from_degC: float, until_s: float) -> None:
    """From 600 s before now, 0.1 K/s up to 220."""
    for k in range(int((600 - until_s) / 5) + 1):
        plate(bench, min(from_degC + 0.5 * k, 220.0), 600 - 5 * k)


async def test_a_joint_that_is_opened_later_knows_when_the_plate_was_switched_on(tmp_path: Path):
    rig = load_rig(DEMO / "rig.toml").rig
    scale = rig.channel_of(Quantity.PLATE_TEMPERATURE).scaling
    assert scale.value_of(2000) == pytest.approx(200.0)
    async with recorder_bench(tmp_path) as bench:
        warm_up(bench, from_degC=180.0, until_s=0.0)
        assert bench.recorder.state().heat_through is None, "without a joint there is no band to hold it to"
        uuid = await bench.open()
        plate(bench, 220.0, 0.0)
        seen = bench.recorder.state().heat_through
        assert seen.heat == Heat.COUNTING
        assert seen.gone_s == pytest.approx(300.0, abs=10.0)
        assert (seen.needed_s, seen.mark) == (600.0, "from memory")
        setting = bench.recorder.open_record.session.setting
        await bench.end()
        bench.writer.flush()
    with Reader(tmp_path / "record.db") as reader:
        again = setting_of(reader.joint(uuid), reader.statements_of(uuid))
    assert again.plate_known == setting.plate_known
    assert again.plate_known.before.in_band_since_s == pytest.approx(-300.0, abs=10.0)


async def test_a_recorder_that_found_the_plate_hot_does_not_know_it(tmp_path: Path):
    async with recorder_bench(tmp_path) as bench:
        warm_up(bench, from_degC=220.0, until_s=400.0)
        await bench.open()
        assert bench.recorder.state().heat_through.heat == Heat.NO_READING, "its last reading is old"
        plate(bench, 220.0, 0.0)
        plate(bench, 220.0, -5.0)
        plate(bench, 220.0, -10.0)
        seen = bench.recorder.state().heat_through
        assert seen.heat == Heat.NOT_OBSERVED
        assert seen.gone_s < 60.0


async def test_a_new_recorder_knows_nothing_of_what_the_last_one_saw(tmp_path: Path):
    async with recorder_bench(tmp_path) as bench:
        warm_up(bench, from_degC=180.0, until_s=0.0)
        bench.recorder = Recorder(bench.recorder._installation, "", bench.recorder._clock, bench.writer)
        assert bench.recorder._plate.before(None, 0.0) is None
        assert not bench.recorder._plate._seen


async def test_a_reading_by_hand_has_its_age_and_its_distance_from_the_sensor(tmp_path: Path):
    async with recorder_bench(tmp_path) as bench:
        await bench.open()
        plate(bench, 220.0, 0.0)
        record = bench.recorder.open_record
        taken_at_s = record.session.tracked.now_s
        record.take_hand_readings(
            (
                HandReading(
                    temperature_degC=217.5, u_degC=1.0, face="both", taken_at_s=taken_at_s, instrument="T-9"
                ),
            )
        )
        (seen,) = bench.recorder.state().surface_by_hand
        assert (seen.instrument, seen.face) == ("T-9", "both")
        assert seen.offset_K == pytest.approx(-2.5, abs=0.06)
        assert seen.age_s >= 0.0
        known = replace(record.session.setting.plate_known, hand_readings=())
        record.session = replace(record.session, setting=replace(record.session.setting, plate_known=known))
        assert bench.recorder.state().surface_by_hand == ()


def read_by_hand(bench: Bench, face: str = "both", degC: float = 217.5) -> None:
    record = bench.recorder.open_record
    one = HandReading(
        temperature_degC=degC,
        u_degC=1.0,
        face=face,
        taken_at_s=record.session.tracked.now_s,
        instrument="T-9",
    )
    known = record.session.setting.plate_known
    record.take_hand_readings((*known.hand_readings, one))


async def test_a_reading_by_hand_is_told_of_in_the_next_joint_as_from_before_it(tmp_path: Path):
    async with recorder_bench(tmp_path) as bench:
        await bench.open()
        plate(bench, 220.0, 0.0)
        read_by_hand(bench)
        await bench.end()
        assert bench.recorder.state().surface_by_hand == (), "no joint is open"
        await bench.open(joint="A-2")
        (seen,) = bench.recorder.state().surface_by_hand
        assert (seen.is_before_joint, seen.face, seen.instrument) == (True, "both", "T-9")
        assert seen.offset_K == pytest.approx(-2.5, abs=0.06), "to the sensor as it was then"
        assert bench.recorder.open_record.session.setting.plate_known.hand_readings == (), "decides nothing"
        bench.enter(Phase.BEAD_UP)
        assert bench.recorder.state().surface_by_hand == (), "the plate is at work"
        bench.enter(None)
        plate(bench, 220.0, 0.0)
        read_by_hand(bench, face="fixed", degC=219.0)
        (own,) = bench.recorder.state().surface_by_hand
        assert (own.is_before_joint, own.face) == (False, "fixed"), "the earlier one has had its time"
        await bench.end()
        await bench.open(joint="A-3")
        await bench.end()
        await bench.open(joint="A-4")
        (again,) = bench.recorder.state().surface_by_hand
        assert (again.is_before_joint, again.face) == (True, "fixed")


def test_a_reading_by_hand_grows_old_and_is_dropped_over_night():
    setting = Setting(joint=None, rig=None, plan=None)
    one = HandReading(temperature_degC=217.5, u_degC=1.0, face="both", taken_at_s=40.0, instrument="T-9")
    read = opened(replace(setting, plate_known=PlateKnown(hand_readings=(one,))))
    kept = HandSurfaces()
    kept.keep(read, now_s=100.0, mono_s=5000.0)
    (seen,) = kept.before(opened(setting), mono_s=5600.0)
    assert (seen.age_s, seen.offset_K, seen.is_before_joint) == (660.0, None, True)
    kept.keep(opened(setting), now_s=900.0, mono_s=6000.0)
    assert kept.before(opened(setting), mono_s=5600.0) == (seen,), "a joint without a reading changes nothing"
    assert kept.before(read, mono_s=5600.0) == ()
    assert kept.before(opened(setting), mono_s=5000.0 - 60.0 + KEPT_S)
    assert not kept.before(opened(setting), mono_s=5000.0 - 60.0 + KEPT_S + 1.0)
