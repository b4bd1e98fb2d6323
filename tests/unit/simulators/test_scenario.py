"""Scenario files: each loads and gives what it promises; what is wrong is refused in one line."""

from pathlib import Path

import pytest

from simulators.intent import intent_of
from simulators.scenario import PHASES, load_scenario, scenario_names
from simulators.tables import ScenarioError

EXPECTED = {
    "clean": ("conforming", ()),
    "spikes": ("conforming", ()),
    "dropouts": ("conforming", ()),
    "stuck-sensor": ("undecided", ()),
    "wire-break": ("undecided", ()),
    "slow-changeover": ("nonconforming", ("changeover.duration.long",)),
    "short-soak": ("nonconforming", ("heat_soak.duration.short",)),
    "long-soak": ("conforming", ("heat_soak.duration.long",)),
    "long-bead-up": ("conforming", ("bead_up.duration.long",)),
    "pressure-not-let-down": ("nonconforming", ("heat_soak.pressure.high",)),
    "low-joining-pressure": ("nonconforming", ("cooling.pressure.low",)),
    "high-joining-pressure": ("nonconforming", ("cooling.pressure.high",)),
    "low-bead-up-pressure": ("nonconforming", ("bead_up.pressure.low",)),
    "high-bead-up-pressure": ("nonconforming", ("bead_up.pressure.high",)),
    "slow-build-up": ("nonconforming", ("pressure_build_up.duration.long",)),
    "fast-build-up": ("conforming", ("pressure_build_up.duration.short",)),
    "overshoot": ("nonconforming", ("pressure_build_up.pressure.high",)),
    "early-release": ("nonconforming", ("cooling.duration.short",)),
    "pressure-lost-in-cooling": ("nonconforming", ("cooling.pressure.low",)),
    "cold-plate": ("nonconforming", ("plate.temperature.low",)),
    "hot-plate": ("nonconforming", ("plate.temperature.high",)),
    "contact-lost-in-soak": ("nonconforming", ("heat_soak.contact.lost",)),
    "restart-unfaced": ("nonconforming", ("bead_up.restart.unfaced",)),
    "restart-faced": ("conforming", ()),
    "second-closing": ("nonconforming", ("pressure_build_up.contact.repeated",)),
    "pack-stopped": ("undecided", ()),
    "accumulator-step": ("conforming", ()),
    "breakaway-above-joining": ("conforming", ()),
    "hand-pump": ("conforming", ()),
    "jog-let-down": ("conforming", ()),
    "leaking-cylinder": ("conforming", ()),
    "long-preparation": ("conforming", ()),
    "long-string": ("conforming", ()),
    "nudged-in-soak": ("conforming", ()),
    "plate-just-switched-on": ("conforming", ("plate.heat_through.short",)),
    "plate-moved-in-soak": ("conforming", ()),
    "plate-sticks": ("conforming", ()),
    "pump-start-spike": ("conforming", ()),
    "rough-gauge": ("conforming", ()),
    "slow-release": ("conforming", ()),
    "stop-at-relief": ("conforming", ()),
    "sun-on-the-hose": ("conforming", ()),
    "two-joints": ("conforming", ()),
}
HABITS = {
    "breakaway-above-joining": {"rig"},
    "hand-pump": {"rig"},
    "jog-let-down": {"operator"},
    "leaking-cylinder": {"rig"},
    "long-preparation": {"plate", "operator"},
    "long-string": {"rig"},
    "pack-stopped": {"rig"},
    "plate-just-switched-on": {"plate", "operator"},
    "plate-sticks": {"rig"},
    "pump-start-spike": {"rig"},
    "rough-gauge": {"rig", "sensors"},
    "second-closing": {"operator"},
    "slow-release": {"operator"},
    "stop-at-relief": {"rig", "operator"},
    "sun-on-the-hose": {"rig"},
    "two-joints": {"operator"},
}
"""Scenarios of another rig or operator, and the tables in which they are so."""
FAULT_AND_HABIT = ("pack-stopped", "second-closing")


def test_every_scenario_loads_and_expects_what_its_name_says() -> None:
    loaded = {name: load_scenario(name) for name in scenario_names()}
    assert {name: (s.expected_verdict, s.expected_codes) for name, s in loaded.items()} == EXPECTED


@pytest.mark.parametrize("name", sorted(set(EXPECTED) - {"clean"}))
def test_a_scenario_differs_from_the_clean_one_by_one_fault_or_one_habit(name: str) -> None:
    clean, other = load_scenario("clean"), load_scenario(name)
    tables = ("pipe", "targets", "rig", "plate", "sensors", "operator")
    assert {t for t in tables if getattr(other, t) != getattr(clean, t)} == HABITS.get(name, set())
    assert len(other.fault) == (0 if name in HABITS and name not in FAULT_AND_HABIT else 1)


def test_gauge_pressure_is_interface_pressure_on_the_pipe_end_plus_drag() -> None:
    scenario = load_scenario("clean")
    # dn 63 SDR 11, 0.15 MPa, 629 mm2, 8 bar drag; by hand: pi x 57.2727 x 5.72727 = 1030.5 mm2.
    assert scenario.pipe.area_mm2 == pytest.approx(1030.5, abs=0.05)
    assert scenario.gauge_bar(0.15) == pytest.approx(8.0 + 1.5 * 1030.5 / 629.0, abs=1e-3)


def test_changed_targets_move_the_faults_with_them() -> None:
    scenario = load_scenario("slow-changeover").with_changes({"targets": {"changeover_max_s": 8.0}})
    assert intent_of(scenario).changeover_s == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('base = "clean"\n[rig]\ndrag = 3', ":3: rig: drag: unknown key (did you mean drag_bar?)"),
        ('base = "clean"\nextra = 3', ":2: extra: unknown key"),
        ('base = "clean"\n[rig]\n# why\ndrag_bar = "3"', ":4: rig: drag_bar: expected float, not '3'"),
        ('base = "clean"\n[rig]\ndrag_bar = nan', ":3: rig: drag_bar: expected a finite number"),
        (
            'base = "clean"\n[rig]\npiston_area_mm2 = 0',
            ":3: rig: piston_area_mm2: 0.0 is too small (expected above 0)",
        ),
        ('base = "clean"\n[operator]\njoints = 0', ":3: operator: joints: 0 is too small"),
        ('base = "clean"\nrig.drag_bar = -1', ":2: rig: drag_bar: -1.0 is too small (expected at least 0)"),
        ('base = "clean"\nrig = { drag_bar = -1 }', ":2: rig: drag_bar: -1.0 is too small"),
        (
            'base = "clean"\n[rig]\ngauge_side = "lien"',
            ":3: rig: gauge_side: 'lien' is not known (did you mean line?)",
        ),
        ('base = "clean"\nrig = 3', ":2: rig: expected a table"),
        (
            'base = "clean"\n[[fault]]\nkind = "spikes"\n[[fault]]\nkind = "spike"',
            ":5: fault 2: kind: 'spike' is not known (did you mean spikes?)",
        ),
        ('base = "spikes"\n[[fault]]\nmagnitude = 3', ":2: fault 1: kind: missing"),
        ('# mine\nbase = "claen"', ":2: base: claen: no such scenario (did you mean clean?)"),
        ('description = "x"', ":1: expected_verdict: missing"),
        ('description = "x"\n= 3', ":2: not TOML"),
    ],
)
def test_a_wrong_scenario_is_refused_in_one_line(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        load_scenario(str(path))
    assert str(caught.value).startswith(f"{path}{message}")
    assert "\n" not in str(caught.value)


def test_what_a_base_gets_wrong_is_laid_at_its_own_door(tmp_path: Path) -> None:
    base, mine = tmp_path / "base.toml", tmp_path / "mine.toml"
    base.write_text('base = "clean"\n\n[rig]\ndrag_bar = "much"', encoding="utf-8")
    mine.write_text(f'base = "{base}"\n[rig]\nbreakaway_bar = 9', encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        load_scenario(str(mine))
    assert str(caught.value).startswith(f"{base}:4: rig: drag_bar: ")


def test_a_base_that_leads_back_to_itself_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "round.toml"
    path.write_text(f'base = "{path}"', encoding="utf-8")
    with pytest.raises(ScenarioError, match="circle"):
        load_scenario(str(path))


def test_the_phases_have_their_contract_names() -> None:
    assert PHASES == ("bead_up", "heat_soak", "changeover", "pressure_build_up", "cooling")
