"""Remarks on what a rig file allows."""

from dataclasses import replace

from logger.config.rig_file import rig_of
from logger.domain.bus import Table
from logger.domain.bus_load import BusLoad, RequestLoad
from logger.domain.wiring import WiringCode, wiring_remarks
from tests.unit.config.test_rig_file import TEXT

TODAY = "2026-06-01"


def codes(text: str, today: str = TODAY) -> set[WiringCode]:
    return {remark.code for remark in wiring_remarks(rig_of(text), today)}


def test_a_rig_with_everything_declared_needs_one_remark() -> None:
    """Its device may take 0.2 s, by default, and is asked ten times a second."""
    assert codes(TEXT) == {WiringCode.SLOW_UNIT}
    assert codes(TEXT.replace("baudrate", 'worst_latency = "20 ms"\nbaudrate')) == set()


def test_what_was_left_out_is_said() -> None:
    bare = TEXT.replace('valid = ["-1 bar", "255 bar"]\nuncertainty = "0.5 bar"\n', "")
    bare = bare.replace('gauge_side = "line"\n', "").replace('cylinder_area = "6.29 cm2"\n', "")
    assert codes(bare) >= {
        WiringCode.NO_RANGE,
        WiringCode.NO_UNCERTAINTY,
        WiringCode.GAUGE_SIDE_UNKNOWN,
        WiringCode.NO_PISTON_AREA,
    }


def test_a_loop_needs_no_range() -> None:
    bare = TEXT.replace('valid = ["-1 bar", "255 bar"]\n', 'signal = "4-20 mA"\n')
    assert WiringCode.NO_RANGE not in codes(bare)


def test_an_overdue_calibration() -> None:
    assert WiringCode.CALIBRATION_OVERDUE in codes(TEXT, "2027-02-11")
    assert WiringCode.CALIBRATION_OVERDUE not in codes(TEXT, "2027-02-10")


def test_the_room_of_a_bus() -> None:
    """Ten requests of 20 ms and ten of 30 ms take half of each second; the other half is 25 ms for each."""
    one = RequestLoad(unit_id=1, table=Table.INPUT, address=0, count=2, rate_hz=10.0, time_s=0.02)
    load = BusLoad(bus="b", form="", requests=(one, replace(one, address=9, time_s=0.03)))
    assert round(load.share, 9) == 0.5
    assert round(load.room_s, 9) == 0.025
