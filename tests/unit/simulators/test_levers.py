"""The rig whose levers are moved by words: it moves, holds, lets go and loses wires, and asks for sense."""

import pytest

from simulators.levers import Levers, Outage, Part
from simulators.scenario import load_scenario
from simulators.sensors import Reading
from simulators.tables import ScenarioError


class Rig:
    """The levers with a clock that a test turns."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.levers = Levers(load_scenario("clean"), seed=1, now_s=lambda: self.now_s)

    def after(self, seconds: float) -> Reading | None:
        """The reading so much later, asked for ten times a second meanwhile."""
        for _ in range(round(10 * seconds)):
            self.now_s += 0.1
            self.levers.read()
        return self.levers.read()


@pytest.fixture
def rig() -> Rig:
    return Rig()


def test_a_stroke_shows_drag_and_a_hold_the_pressure_it_was_given(rig: Rig) -> None:
    rig.levers.do("stroke")
    stroking = rig.after(3.0)
    assert stroking is not None
    assert stroking.pressure_bar == pytest.approx(8.0, abs=0.5)
    assert stroking.carriage_mm < 130.0
    rig.levers.do("hold 40")
    held = rig.after(6.0)
    assert held is not None
    assert held.pressure_bar == pytest.approx(40.0, abs=0.5)
    assert held.carriage_mm < 0.0, "pressed together"
    rig.levers.do("release")
    rested = rig.after(3.0)
    assert rested is not None
    assert rested.pressure_bar == pytest.approx(0.0, abs=0.2)


def test_a_wire_off_shows_as_nothing_and_comes_back(rig: Rig) -> None:
    rig.levers.do("wire pressure 2")
    off = rig.after(1.0)
    assert off is not None
    assert off.pressure_counts == 0
    back = rig.after(1.5)
    assert back is not None
    assert back.pressure_counts > 6000


def test_a_supply_that_breaks_down_silences_the_rig_and_a_plug_is_taken_from_its_ports_alone(
    rig: Rig,
) -> None:
    assert rig.levers.do("dip 2") == Outage(Part.SUPPLY, 2.0)
    assert rig.after(1.0) is None
    assert rig.after(1.5) is not None
    assert rig.levers.do("unplug 2.5") == Outage(Part.PLUG, 2.5)
    assert rig.after(1.0) is not None, "the rig itself goes on"
    assert rig.levers.do("stroke") is None


def test_a_supply_is_back_in_its_time_though_nobody_could_ask(rig: Rig) -> None:
    rig.levers.do("dip 30")
    rig.now_s += 29.0
    assert rig.levers.read() is None
    rig.now_s += 2.0
    assert rig.levers.read() is not None


def test_while_nobody_asks_the_rig_goes_on_for_five_seconds_and_waits(rig: Rig) -> None:
    rig.levers.do("hold 40")
    rig.now_s += 3600.0
    held = rig.levers.read()
    assert held is not None
    assert held.pressure_bar > 35.0, "an hour of leaking would have emptied it"


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("strok", r"strok: not understood \(did you mean stroke\?\)"),
        ("hold", "hold: needs a figure behind it, like hold 3"),
        ("hold soon", "hold: needs a figure"),
        ("hold -1", "hold: -1 is not above 0"),
        ("wire valve 3", "not understood"),
    ],
)
def test_what_makes_no_sense_is_told(rig: Rig, line: str, message: str) -> None:
    with pytest.raises(ScenarioError, match=message):
        rig.levers.do(line)
