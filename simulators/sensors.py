"""From the state of the rig to the counts a data logger can read: noise, quantisation, sensor faults.

    channel      counts              engineering value
    pressure     0..32767            bar  = (counts - 6400) * 250 / 25600    4 mA = 6400, 20 mA = 32000
    temperature  0..65535            degC = counts * 0.1
    carriage     0..65535            mm   = counts * 0.02 - 20
    plate in     0, 1

A broken wire gives 0 counts of pressure: far below live zero, -62.5 bar if scaled.

Sensor faults, `magnitude` and times:

    spikes         bar added for `duration_s`, `count` times, `every_s` apart
    dropout        the device does not answer at all for `duration_s`
    stuck_sensor   pressure counts stay what they were for `duration_s`
    wire_break     pressure counts are 0 for `duration_s`
"""

import math
import random
from array import array
from itertools import accumulate
from typing import NamedTuple

from simulators.hydraulics import STEP_S
from simulators.rig import Trajectory
from simulators.scenario import Fault

LIVE_ZERO_COUNTS = 6400
PRESSURE_BAR_PER_COUNT = 250.0 / 25600.0
TEMPERATURE_DEGC_PER_COUNT = 0.1
CARRIAGE_MM_PER_COUNT = 0.02
CARRIAGE_OFFSET_MM = -20.0
_PRESSURE_CEILING_COUNTS = 32767


class Reading(NamedTuple):
    """What the device's inputs hold at one instant."""

    pressure_counts: int
    temperature_counts: int
    carriage_counts: int
    plate_in: int

    @property
    def pressure_bar(self) -> float:
        return (self.pressure_counts - LIVE_ZERO_COUNTS) * PRESSURE_BAR_PER_COUNT

    @property
    def plate_temperature_degC(self) -> float:
        return self.temperature_counts * TEMPERATURE_DEGC_PER_COUNT

    @property
    def carriage_mm(self) -> float:
        return self.carriage_counts * CARRIAGE_MM_PER_COUNT + CARRIAGE_OFFSET_MM


def pressure_counts_of(above_zero: float) -> int:
    """What the input holds for so many counts above 0 bar."""
    return _counts(LIVE_ZERO_COUNTS + above_zero, _PRESSURE_CEILING_COUNTS)


def reading_of(
    pressure_counts: int, temperature_degC: float, carriage_mm: float, *, plate_in: bool
) -> Reading:
    return Reading(
        pressure_counts,
        _counts(temperature_degC / TEMPERATURE_DEGC_PER_COUNT, 65535),
        _counts((carriage_mm - CARRIAGE_OFFSET_MM) / CARRIAGE_MM_PER_COUNT, 65535),
        int(plate_in),
    )


class _Window(NamedTuple):
    start_s: float
    end_s: float
    magnitude: float


class Sensors:
    """`read(t_s)` depends on the trajectory, the seed and `t_s` alone, never on the calls before it."""

    def __init__(self, trajectory: Trajectory, seed: int, noise_bar: float | None = None) -> None:
        scenario = trajectory.scenario
        self.trajectory = trajectory
        source = random.Random(seed)
        fitted = scenario.sensors
        noise_bar = fitted.pressure_noise_bar if noise_bar is None else noise_bar
        self._pressure_noise = _noise(source, noise_bar, trajectory, fitted.pressure_noise_memory_s)
        self._temperature_noise = _noise(source, fitted.temperature_noise_degC, trajectory)
        self._step_counts = max(1, round(fitted.pressure_step_bar / PRESSURE_BAR_PER_COUNT))
        self._spikes = self._windows(scenario.faults("spikes"))
        self._dropouts = self._windows(scenario.faults("dropout"))
        self._stuck = self._windows(scenario.faults("stuck_sensor"))
        self._breaks = self._windows(scenario.faults("wire_break"))

    def read(self, t_s: float) -> Reading | None:
        """Counts at `t_s`; None while the device is silent."""
        if _within(self._dropouts, t_s):
            return None
        index = self.trajectory.index_at(t_s)
        state = self.trajectory.sample_at(t_s)
        temperature_degC = state.plate_temperature_degC + self._temperature_noise[index]
        return reading_of(
            self._pressure_counts(t_s), temperature_degC, state.carriage_mm, plate_in=state.plate_in
        )

    def _pressure_counts(self, t_s: float) -> int:
        if _within(self._breaks, t_s):
            return 0
        stuck = _within(self._stuck, t_s)
        if stuck is not None:
            t_s = stuck.start_s
        index = self.trajectory.index_at(t_s)
        pressure_bar = self.trajectory.gauge_bar[index] + self._pressure_noise[index]
        spike = _within(self._spikes, t_s)
        if spike is not None:
            pressure_bar += spike.magnitude
        resolved = round(pressure_bar / PRESSURE_BAR_PER_COUNT / self._step_counts) * self._step_counts
        return pressure_counts_of(resolved)

    def _windows(self, faults: list[Fault]) -> list[_Window]:
        windows = []
        for fault in faults:
            first_s = self.trajectory.start_of(fault.phase) + fault.after_s
            for number in range(fault.count):
                start_s = first_s + number * fault.every_s
                windows.append(_Window(start_s, start_s + fault.duration_s, fault.magnitude))
        return windows


def _within(windows: list[_Window], t_s: float) -> _Window | None:
    return next((window for window in windows if window.start_s <= t_s < window.end_s), None)


def _noise(
    source: random.Random, sigma: float, trajectory: Trajectory, memory_s: float = 0.0
) -> "array[float]":
    """Noise of this standard deviation; it forgets itself with the time constant `memory_s`."""
    white = array("f", [source.gauss(0.0, sigma) for _ in range(len(trajectory.gauge_bar))])
    if not memory_s:
        return white
    kept = math.exp(-STEP_S / memory_s)
    fresh = math.sqrt(1.0 - kept * kept)
    return array("f", accumulate(white, lambda before, new: kept * before + fresh * new))


def _counts(value: float, ceiling: int) -> int:
    """The converter saturates at its ends, as converters do."""
    return min(max(round(value), 0), ceiling)
