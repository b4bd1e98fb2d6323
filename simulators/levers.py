"""The simulated rig with its levers in a person's hands: it stands still until a word moves it.

open              all the way, against the stop
stroke            one slow closing stroke of some seconds, then let down
hold BAR          close until the faces meet, press to BAR, valve to neutral, pump off: shut in
release           the valve opened at one go
start             pump, facer and plate at once on one supply; it holds
dip SECONDS       the supply breaks down: levers back to neutral; the device is away for so long and restarts
unplug SECONDS    the plug pulled for so long: the line's pty and its name are gone, or the TCP port closed
wire CHANNEL SECONDS    its signal wire off: pressure reads 0 counts, temperature and carriage their ends
"""

import random
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto

from simulators.hydraulics import STEP_S, Hydraulics, Order, Valve
from simulators.operator_script import Ends
from simulators.plate import PlateModel
from simulators.preparation_steps import travel_bar
from simulators.rig import Gauge
from simulators.scenario import Scenario
from simulators.sensors import PRESSURE_BAR_PER_COUNT, Reading, pressure_counts_of, reading_of
from simulators.step_ends import after, opened, touches
from simulators.tables import ScenarioError, nearest

_LOST = {
    "pressure": {"pressure_counts": 0},
    "temperature": {"temperature_counts": 32767},
    "carriage": {"carriage_counts": 65535},
}
"""What an input shows with its wire off."""
_STROKE_S = 4.5
_PRESS_S = 1.5
_UNWATCHED_S = 5.0
"""While nobody asks, the rig goes on for so long and then waits."""


class Part(Enum):
    """What of the rig's link to its recorder is taken away."""

    PLUG = auto()
    SUPPLY = auto()


@dataclass(frozen=True, slots=True)
class Outage:
    """For so many real seconds; whoever serves the rig brings it about."""

    part: Part
    seconds: float


@dataclass(frozen=True, slots=True)
class _Move:
    valve: Valve
    ends: Ends
    setting_bar: float = 0.0
    speed_mm_per_s: float = 40.0


class Levers:
    """The rig of a scenario in real time; `do` takes one line of text, `read` gives its reading."""

    def __init__(self, scenario: Scenario, seed: int, now_s: Callable[[], float]) -> None:
        self._scenario = scenario
        self._now_s = now_s
        self._draw = random.Random(seed)
        self._hydraulics = Hydraulics(scenario.rig)
        self._gauge = Gauge(scenario)
        self._plate = PlateModel(scenario.plate, scenario.targets.plate_degC)
        self._order = Order()
        self._moves: list[_Move] = []
        self._in_move_s = 0.0
        self._t_s = 0.0
        self._seen_s = now_s()
        self._silent_until_s = 0.0
        self._off_until_s: dict[str, float] = {}

    def do(self, line: str) -> Outage | None:
        """Begin what a line asks for; returns what of the ports it takes away.

        Raises:
            ScenarioError: no such word, or it lacks its figure.
        """
        word, *rest = line.split()
        self._advance()
        match word:
            case "open":
                rig = self._scenario.rig
                self._begin(_Move(Valve.OPEN, opened(rig.stroke_mm)), _Move(Valve.NEUTRAL, after(0.0)))
            case "stroke":
                slow = self._scenario.operator.slow_speed_mm_per_s
                close = _Move(Valve.CLOSE, after(_STROKE_S), travel_bar(self._scenario), slow)
                self._begin(close, _Move(Valve.NEUTRAL, after(0.0)))
            case "hold":
                press = _Move(Valve.CLOSE, after(_PRESS_S), _figure(word, rest))
                travel = _Move(Valve.CLOSE, touches, travel_bar(self._scenario))
                self._begin(travel, press, _Move(Valve.HOLD, after(0.0)))
            case "release":
                self._begin(_Move(Valve.NEUTRAL, after(0.0)))
            case "start":
                self._begin(_Move(Valve.CLOSE, after(_PRESS_S)), _Move(Valve.NEUTRAL, after(0.0)))
            case "dip":
                outage = Outage(Part.SUPPLY, _figure(word, rest))
                self._silent_until_s = self._seen_s + outage.seconds
                self._begin(_Move(Valve.NEUTRAL, after(0.0)))
                return outage
            case "unplug":
                return Outage(Part.PLUG, _figure(word, rest))
            case "wire" if rest and rest[0] in _LOST:
                self._off_until_s[rest[0]] = self._t_s + _figure(word, rest[1:])
            case _:
                known = ["open", "stroke", "hold", "release", "start", "dip", "unplug", *_LOST]
                raise ScenarioError(f"{line}: not understood{nearest(word, known)}")
        return None

    def read(self) -> Reading | None:
        """The reading of this moment; None while the device has no supply."""
        self._advance()
        if self._seen_s < self._silent_until_s:
            return None
        sensors = self._scenario.sensors
        bar = self._gauge.shown_bar + self._draw.gauss(0.0, sensors.pressure_noise_bar)
        degC = self._plate.reading_degC + self._draw.gauss(0.0, sensors.temperature_noise_degC)
        counts = pressure_counts_of(bar / PRESSURE_BAR_PER_COUNT)
        reading = reading_of(counts, degC, self._hydraulics.opening_mm, plate_in=False)
        for channel, until_s in self._off_until_s.items():
            if self._t_s < until_s:
                reading = reading._replace(**_LOST[channel])
        return reading

    def _begin(self, *moves: _Move) -> None:
        self._moves = list(moves)
        self._enter()

    def _enter(self) -> None:
        move = self._moves[0]
        self._in_move_s = 0.0
        area_mm2 = self._scenario.rig.piston_area_mm2
        self._order = Order(move.valve, move.setting_bar, move.speed_mm_per_s * area_mm2)

    def _advance(self) -> None:
        now_s = self._now_s()
        due_s = self._t_s + min(now_s - self._seen_s, _UNWATCHED_S)
        self._seen_s = now_s
        while self._t_s < due_s:
            self._t_s += STEP_S
            self._in_move_s += STEP_S
            self._hydraulics.step(self._order)
            self._plate.step(in_contact=False)
            self._gauge.step(self._hydraulics, self._order.valve, self._t_s)
            if len(self._moves) > 1 and self._moves[0].ends(self._hydraulics, self._in_move_s, 0.0):
                del self._moves[0]
                self._enter()


def _figure(word: str, rest: list[str]) -> float:
    try:
        figure = float(rest[0])
    except (IndexError, ValueError):
        raise ScenarioError(f"{word}: needs a figure behind it, like {word} 3") from None
    if not 0.0 < figure < float("inf"):
        raise ScenarioError(f"{word}: {rest[0]} is not above 0")
    return figure
