"""Scenario files: each loads and gives what it promises; what is wrong is refused in one line."""

from pathlib import Path

import pytest

from simulators.intent import intent_of
from simulators.scenario import PHASES, ScenarioError, load_scenario, scenario_names

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
}


def test_every_scenario_loads_and_expects_what_its_name_says() -> None:
    loaded = {name: load_scenario(name) for name in scenario_names()}
    assert {name: (s.expected_verdict, s.expected_codes) for name, s in loaded.items()} == EXPECTED


@pytest.mark.parametrize("name", sorted(set(EXPECTED) - {"clean"}))
def test_a_fault_scenario_differs_from_the_clean_one_by_its_fault_alone(name: str) -> None:
    clean, faulty = load_scenario("clean"), load_scenario(name)
    assert len(faulty.fault) == 1
    for table in ("pipe", "targets", "rig", "plate", "sensors", "operator"):
        assert getattr(faulty, table) == getattr(clean, table)


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
        ('base = "clean"\n[rig]\ndrag = 3', "rig: drag: unknown key (did you mean drag_bar?)"),
        ('base = "clean"\nextra = 3', "extra: unknown key"),
        ('base = "clean"\n[rig]\ndrag_bar = "3"', "rig: drag_bar: expected float, not '3'"),
        ('base = "clean"\n[rig]\ndrag_bar = nan', "rig: drag_bar: expected a finite number"),
        ('base = "clean"\n[rig]\npiston_area_mm2 = 0', "piston_area_mm2: 0.0 is too small"),
        (
            'base = "clean"\n[rig]\ngauge_side = "lien"',
            "gauge_side: 'lien' is not known (did you mean line?)",
        ),
        ('base = "clean"\nrig = 3', "rig: expected a table"),
        (
            'base = "clean"\n[[fault]]\nkind = "spike"',
            "fault 1: kind: 'spike' is not known (did you mean spikes?)",
        ),
        ('base = "claen"', "claen: no such scenario (did you mean clean?)"),
        ('description = "x"', "expected_verdict: missing"),
        ("= 3", "not TOML"),
    ],
)
def test_a_wrong_scenario_is_refused_in_one_line(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ScenarioError) as caught:
        load_scenario(str(path))
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_base_that_leads_back_to_itself_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "round.toml"
    path.write_text(f'base = "{path}"', encoding="utf-8")
    with pytest.raises(ScenarioError, match="circle"):
        load_scenario(str(path))


def test_the_phases_have_their_contract_names() -> None:
    assert PHASES == ("bead_up", "heat_soak", "changeover", "pressure_build_up", "cooling")
