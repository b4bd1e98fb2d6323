"""What stands between the oil and the reading of a sketched joint: hose, transmitter, converter, pump.

None of it is the simulator's: dead time, lags of other shapes, a transmitter that refreshes by itself, noise
with more power the slower it is, a zero that drifts.
"""

import math
import random

import numpy as np
from numpy.typing import NDArray

from simulators.hydraulics import STEP_S
from simulators.scenario import Scenario

Curve = NDArray[np.float64]

DEAD_TIME_MAX_S = 0.15
SNUBBED = (1.5, 3.0)
"""How much slower the gauge follows upwards than downwards, or the other way round."""
REFRESH_S = (0.04, 0.2)
PINK_SHARE = 0.5
DRIFT_SHARE = 0.15
"""Of the narrowest tolerance of cooling, over the whole joint."""


def shown(source: Curve, scenario: Scenario, rng: random.Random) -> Curve:
    """The gauge, before its white noise: the pressure through one of several transmitters."""
    lag_s = scenario.rig.hydraulic_lag_s
    dead = round(rng.uniform(0.0, min(DEAD_TIME_MAX_S, 0.5 * lag_s)) / STEP_S)
    rippled = source + _ripple(source, scenario, rng)
    delayed = np.concatenate([np.zeros(dead), rippled[: len(source) - dead]])
    lagged = rng.choice((_second_order, _second_order, _snubbed, _averaged))(delayed, lag_s, rng)
    if rng.random() < 0.25:
        lagged = _refreshed(lagged, rng)
    if rng.random() < 0.3:
        lagged = lagged + PINK_SHARE * scenario.sensors.pressure_noise_bar * _pink(len(lagged), rng)
    if rng.random() < 0.3:
        drift_bar = DRIFT_SHARE * _room_bar(scenario) * rng.uniform(-1.0, 1.0)
        lagged = lagged + drift_bar * np.linspace(0.0, 1.0, len(lagged))
    return np.asarray(lagged)


def _room_bar(scenario: Scenario) -> float:
    """Half the width of the narrowest band of cooling: a later stage, at less pressure, has less room."""
    targets = scenario.targets
    share = targets.second_interface_MPa / targets.joining_interface_MPa if targets.first_stage_s else 1.0
    return share * (scenario.gauge_bar(targets.joining_tolerance_MPa) - scenario.rig.drag_bar)


def _second_order(delayed: Curve, lag_s: float, rng: random.Random) -> Curve:
    """Mean delay as given, damped or ringing."""
    damping = rng.uniform(0.6, 1.5)
    omega = 2.0 * damping / max(lag_s, 4.0 * STEP_S)
    at, speed, out = 0.0, 0.0, []
    for bar in delayed.tolist():
        speed += (omega * omega * (bar - at) - 2.0 * damping * omega * speed) * STEP_S
        at += speed * STEP_S
        out.append(at)
    return np.asarray(out)


def _snubbed(delayed: Curve, lag_s: float, rng: random.Random) -> Curve:
    """First order, one way slower than the other: a snubber, or air in the hose."""
    slower = rng.uniform(*SNUBBED)
    up, down = rng.choice(((1.0, slower), (slower, 1.0)))
    at, out = 0.0, []
    for bar in delayed.tolist():
        tau_s = max(lag_s, 2.0 * STEP_S) * (up if bar > at else down) * 2.0 / (1.0 + slower)
        at += (bar - at) * min(STEP_S / tau_s, 1.0)
        out.append(at)
    return np.asarray(out)


def _averaged(delayed: Curve, lag_s: float, _rng: random.Random) -> Curve:
    """The mean over twice the lag: a transmitter that filters by itself."""
    width = max(1, round(2.0 * lag_s / STEP_S))
    sums = np.cumsum(np.concatenate([np.full(width, delayed[0]), delayed]))
    return np.asarray((sums[width:] - sums[:-width]) / width)


def _refreshed(lagged: Curve, rng: random.Random) -> Curve:
    """A transmitter that answers with its last value until it has another."""
    every = max(1, round(rng.uniform(*REFRESH_S) / STEP_S))
    return np.asarray(lagged[np.arange(len(lagged)) // every * every])


def _pink(n: int, rng: random.Random) -> Curve:
    """Noise with a power of 1 / frequency, standard deviation 1."""
    spectrum = np.fft.rfft(np.random.default_rng(rng.getrandbits(32)).normal(0.0, 1.0, n))
    spectrum[1:] /= np.sqrt(np.arange(1, len(spectrum)))
    spectrum[0] = 0.0
    noise = np.fft.irfft(spectrum, n)
    return np.asarray(noise / np.std(noise))


def _ripple(source: Curve, scenario: Scenario, rng: random.Random) -> Curve:
    """A tone whose pitch wanders, wherever a pump could run."""
    steps = np.random.default_rng(rng.getrandbits(32)).normal(0.0, 0.02, len(source))
    phase = 2.0 * math.pi * scenario.rig.ripple_Hz * STEP_S * np.arange(len(source)) + np.cumsum(steps)
    return np.asarray(scenario.rig.ripple_bar * np.sin(phase) * (source > 0.5 * scenario.rig.drag_bar))
