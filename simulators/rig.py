"""The rig and its operator run through one joint; the result is looked up by time."""

import math
from array import array
from dataclasses import dataclass
from typing import NamedTuple

from simulators.hydraulics import STEP_S, Hydraulics, Valve
from simulators.intent import intent_of
from simulators.joint_life import life_steps
from simulators.operator_script import OperatorScript
from simulators.plate import PlateModel
from simulators.scenario import PHASES, GaugeSide, Phase, Scenario
from simulators.tables import ScenarioError

_PREPARATION_S = 900.0  # no preparation of a joint that works takes this long, facing apart
_SPIKE_FADES_S = 0.08
_LINE_EMPTIES_S = 1.5  # behind a shut valve, or out of uncoupled hoses


class RigState(NamedTuple):
    """What is true at one instant, before any sensor error."""

    cylinder_bar: float
    """Closing side of the cylinders: where the true boundaries are taken."""
    gauge_bar: float
    """At the transmitter: the side it sits on, ripple and hydraulic lag included."""
    interface_bar: float
    """Force at the faces, as bar on the piston area."""
    plate_temperature_degC: float
    carriage_mm: float
    plate_in: bool


class PhaseSpan(NamedTuple):
    phase: Phase
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Trajectory:
    """One joint on a grid of `STEP_S`; each of the five phases in `truth` ends where the next starts."""

    scenario: Scenario
    truth: tuple[PhaseSpan, ...]
    cylinder_bar: "array[float]"
    gauge_bar: "array[float]"
    interface_bar: "array[float]"
    plate_temperature_degC: "array[float]"
    carriage_mm: "array[float]"
    plate_in: bytearray

    @property
    def duration_s(self) -> float:
        return (len(self.gauge_bar) - 1) * STEP_S

    def index_at(self, t_s: float) -> int:
        """Grid index of this time; before the start and after the end the rig stands still."""
        return min(max(round(t_s / STEP_S), 0), len(self.gauge_bar) - 1)

    def sample_at(self, t_s: float) -> RigState:
        """The state of the rig at `t_s`."""
        index = self.index_at(t_s)
        return RigState(
            self.cylinder_bar[index],
            self.gauge_bar[index],
            self.interface_bar[index],
            self.plate_temperature_degC[index],
            self.carriage_mm[index],
            bool(self.plate_in[index]),
        )

    def start_of(self, phase: Phase) -> float:
        return next(span.start_s for span in self.truth if span.phase == phase)


def simulate(scenario: Scenario, cooling_s: float | None = None) -> Trajectory:
    """Run the whole joint; `cooling_s` replaces the time under pressure in cooling.

    Raises:
        ScenarioError: the operator waits for something that this rig can never do.
    """
    intent = intent_of(scenario, cooling_s)
    script = OperatorScript(scenario, intent, life_steps(scenario, intent))
    hydraulics = Hydraulics(scenario.rig)
    plate = PlateModel(scenario.plate, intent.plate_setting_degC)
    gauge = Gauge(scenario)
    cylinder, shown, interface, temperature, opening = (array("d") for _ in range(5))
    plate_in = bytearray()
    script.begin(hydraulics)
    cycle_s = 2.0 * (scenario.operator.facing_s + intent.bead_up_s) + intent.soak_s + intent.cooling_s
    longest_s = (_PREPARATION_S + cycle_s) * scenario.operator.joints
    tick = 0
    while not script.finished:
        t_s = tick * STEP_S
        cylinder.append(hydraulics.closing_bar)
        shown.append(gauge.shown_bar)
        interface.append(hydraulics.interface_bar)
        temperature.append(plate.reading_degC)
        opening.append(hydraulics.opening_mm)
        plate_in.append(script.plate_in)
        if t_s > longest_s:
            raise ScenarioError(f"{scenario.name}: step {script.step_number} of the operator never ends here")
        tick += 1
        t_s = tick * STEP_S
        hydraulics.step(script.order)
        plate.step(in_contact=script.plate_in and hydraulics.touching)
        gauge.step(hydraulics, script.order.valve, t_s)
        script.advance(hydraulics, t_s)
    truth = _truth(script.boundaries)
    return Trajectory(scenario, truth, cylinder, shown, interface, temperature, opening, plate_in)


def _truth(boundaries: dict[str, float]) -> tuple[PhaseSpan, ...]:
    ends = [boundaries[phase] for phase in PHASES[1:]] + [boundaries["end"]]
    return tuple(PhaseSpan(phase, boundaries[phase], end) for phase, end in zip(PHASES, ends, strict=True))


class Gauge:
    """The pressure at the transmitter: which side it sits on, what the pump adds, and the lag of its line."""

    __slots__ = (
        "_lag_share",
        "_line_bar",
        "_omega",
        "_pump_on",
        "_ripple",
        "_side",
        "_spike",
        "_spike_bar",
        "shown_bar",
    )

    def __init__(self, scenario: Scenario) -> None:
        rig = scenario.rig
        self._side: GaugeSide = rig.gauge_side
        self._ripple = rig.ripple_bar
        self._omega = 2.0 * math.pi * rig.ripple_Hz
        self._spike = rig.pump_start_spike_bar
        self._spike_bar = 0.0
        self._pump_on = False
        self._line_bar = 0.0
        self._lag_share = STEP_S / max(rig.hydraulic_lag_s, STEP_S)
        self.shown_bar = 0.0

    def step(self, hydraulics: Hydraulics, valve: Valve, t_s: float) -> None:
        """Follow the rig to `t_s`."""
        source_bar = hydraulics.closing_bar
        connected = True
        if self._side == "line":
            if valve is Valve.OPEN:
                source_bar = hydraulics.opening_bar
            elif valve is Valve.SHUT:
                source_bar = self._line_bar * (1.0 - STEP_S / _LINE_EMPTIES_S)
            self._line_bar = source_bar
        else:
            connected = valve is not Valve.OPEN
        if self._spike:
            source_bar += self._pump_start(pump_on=hydraulics.pump_on and connected)
        if hydraulics.pump_on and connected:
            source_bar += self._ripple * math.sin(self._omega * t_s)
        self.shown_bar += (source_bar - self.shown_bar) * self._lag_share

    def _pump_start(self, *, pump_on: bool) -> float:
        if pump_on and not self._pump_on:
            self._spike_bar = self._spike
        self._pump_on = pump_on
        self._spike_bar *= 1.0 - STEP_S / _SPIKE_FADES_S
        return self._spike_bar
