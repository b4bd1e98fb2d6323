"""From state to counts: scaling, noise by seed, and the sensor faults where the scenario puts them."""

import pytest

from simulators.registers import REGISTER_COUNT, registers_of, text_line_of
from simulators.sensors import Reading, Sensors
from tests.unit.simulators.joints import joint, short_joint

TIMES_S = [number / 10 for number in range(1500)]


def test_counts_and_engineering_values_by_hand() -> None:
    # 4 mA is 6400 counts and 0 bar, 20 mA is 32000 counts and 250 bar.
    assert Reading(6400, 0, 1000, 0).pressure_bar == 0.0
    assert Reading(32000, 0, 1000, 0).pressure_bar == 250.0
    assert Reading(0, 0, 1000, 0).pressure_bar == -62.5
    assert Reading(6400, 2204, 1000, 0).plate_temperature_degC == pytest.approx(220.4)
    assert Reading(6400, 2204, 1000, 0).carriage_mm == pytest.approx(0.0)
    assert Reading(6400, 2204, 8500, 0).carriage_mm == pytest.approx(150.0)


def test_the_register_map_by_hand() -> None:
    reading = Reading(6400 + 2560, 2200, 1800, 1)
    # 25.0 as IEEE 754: 0x41C80000; 220.0: 0x435C0000.
    expected = [8960, 2200, 1800, 1, 0, 0, 0, 0, 0, 0, 0x41C8, 0x0000, 0x435C, 0x0000]
    assert registers_of(reading) == expected
    assert len(expected) == REGISTER_COUNT


def test_the_text_line_by_hand() -> None:
    assert text_line_of(Reading(8286, 2213, 1000, 1)) == "P=  18.42 T=221.3 X=  0.00 I=1"


def test_without_noise_a_reading_is_within_half_a_count_of_the_gauge() -> None:
    trajectory = short_joint()
    sensors = Sensors(trajectory, seed=1, noise_bar=0.0)
    for t_s in TIMES_S:
        reading = sensors.read(t_s)
        assert reading is not None
        state = trajectory.sample_at(t_s)
        assert abs(reading.pressure_bar - state.gauge_bar) <= 250.0 / 25600.0 / 2.0 + 1e-9
        assert abs(reading.carriage_mm - state.carriage_mm) <= 0.01 + 1e-9
        assert reading.plate_in == state.plate_in


def test_the_seed_decides_the_noise_and_the_order_of_reading_does_not() -> None:
    trajectory = short_joint()
    first, again, other = (Sensors(trajectory, seed) for seed in (7, 7, 8))
    forwards = [first.read(t_s) for t_s in TIMES_S]
    backwards = [again.read(t_s) for t_s in reversed(TIMES_S)]
    assert forwards == backwards[::-1]
    assert forwards != [other.read(t_s) for t_s in TIMES_S]


def test_noise_has_the_spread_that_was_asked_for() -> None:
    trajectory = short_joint()
    sensors = Sensors(trajectory, seed=3, noise_bar=0.5)
    readings = [sensors.read(t_s) for t_s in TIMES_S]
    errors = [
        reading.pressure_bar - trajectory.sample_at(t_s).gauge_bar
        for reading, t_s in zip(readings, TIMES_S, strict=True)
        if reading is not None
    ]
    assert (sum(error * error for error in errors) / len(errors)) ** 0.5 == pytest.approx(0.5, rel=0.1)


def test_spikes_stand_out_where_the_scenario_puts_them() -> None:
    trajectory = joint("spikes")
    sensors, quiet = Sensors(trajectory, seed=1), Sensors(joint("clean"), seed=1)
    first_s = trajectory.start_of("heat_soak") + 10.0
    for number in range(8):
        spike, plain = (
            sensors.read(first_s + 17.0 * number + 0.05),
            quiet.read(first_s + 17.0 * number + 0.05),
        )
        assert spike is not None
        assert plain is not None
        assert spike.pressure_bar - plain.pressure_bar == pytest.approx(40.0, abs=0.01)
    assert sensors.read(first_s - 0.1) == quiet.read(first_s - 0.1)
    assert sensors.read(first_s + 0.2) == quiet.read(first_s + 0.2)


def test_the_device_is_silent_while_it_drops_out() -> None:
    trajectory = joint("dropouts")
    sensors = Sensors(trajectory, seed=1)
    start_s = trajectory.start_of("cooling") + 60.0
    assert sensors.read(start_s - 0.01) is not None
    assert sensors.read(start_s + 0.01) is None
    assert sensors.read(start_s + 5.99) is None
    assert sensors.read(start_s + 6.01) is not None
    assert sensors.read(start_s + 80.01) is None


def test_a_stuck_sensor_repeats_one_count_and_the_other_channels_go_on() -> None:
    trajectory = joint("stuck-sensor")
    sensors = Sensors(trajectory, seed=1)
    start_s = trajectory.start_of("heat_soak") + 20.0
    readings = [sensors.read(start_s + number * 0.5) for number in range(160)]
    assert len({reading.pressure_counts for reading in readings if reading is not None}) == 1
    assert len({reading.temperature_counts for reading in readings if reading is not None}) > 10
    assert {reading.plate_in for reading in readings if reading is not None} == {0, 1}


def test_a_broken_wire_reads_no_current() -> None:
    trajectory = joint("wire-break")
    sensors = Sensors(trajectory, seed=1)
    start_s = trajectory.start_of("heat_soak") + 20.0
    broken, mended = sensors.read(start_s + 1.0), sensors.read(start_s + 81.0)
    assert broken is not None
    assert mended is not None
    assert broken.pressure_counts == 0
    assert mended.pressure_counts > 6400


def test_before_and_after_the_joint_the_rig_stands_still() -> None:
    sensors = Sensors(short_joint(), seed=1, noise_bar=0.0)
    assert sensors.read(-5.0) == sensors.read(0.0)
    assert sensors.read(1e6) == sensors.read(sensors.trajectory.duration_s)
