"""Simulated joints, each computed once for all tests of a process."""

import functools

from simulators.rig import Trajectory, simulate
from simulators.scenario import load_scenario

SHORT_COOLING_S = 60.0


@functools.cache
def joint(name: str) -> Trajectory:
    """The whole joint of this scenario."""
    return simulate(load_scenario(name))


@functools.cache
def short_joint(name: str = "clean", gauge_side: str = "line") -> Trajectory:
    """The same with cooling cut to `SHORT_COOLING_S`."""
    scenario = load_scenario(name).with_changes({"rig": {"gauge_side": gauge_side}})
    return simulate(scenario, SHORT_COOLING_S)
