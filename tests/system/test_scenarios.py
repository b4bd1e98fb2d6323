"""Simulator scenarios recorded live over both transports at once, and judged again from their record.

Live are the faults that a limit catches and the sensors that fail; what else may happen in a joint's life is
judged from traces of every scenario in tests/unit/judge/test_scenarios.py, which costs no waiting.
"""

from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from logger.cli.exit_codes import EXIT_OF_VERDICT
from logger.cli.main import application
from logger.domain.judgement import Verdict
from logger.domain.phase import Phase
from simulators.scenario import Scenario, load_scenario
from tests.system.processes import JOINT, JOINT_FILE, TIME_SCALES, Recorder, codes_of, has_stalled, simulated

LIVE = (
    "clean",
    "dropouts",
    "early-release",
    "hot-plate",
    "low-joining-pressure",
    "overshoot",
    "pressure-lost-in-cooling",
    "short-soak",
    "slow-changeover",
    "spikes",
    "wire-break",
)

pytestmark = [pytest.mark.system, pytest.mark.timeout(600)]


def record(scenario: str, folder: Path, time_scale: float) -> dict[str, Recorder]:
    """Record one joint over TCP and RTU at once, from the same rig."""
    with ExitStack() as stack:
        rig = stack.enter_context(simulated(scenario, folder, time_scale=time_scale))
        recorders = {
            name: Recorder(folder / name, rig.bus(name), time_scale=time_scale) for name in ("tcp", "rtu")
        }
        rig.pause()
        for recorder in recorders.values():
            stack.enter_context(recorder.recording(JOINT_FILE))
        rig.resume()
        for recorder in recorders.values():
            recorder.until_ended()
    return recorders


def recorded(scenario: Scenario, folder: Path) -> dict[str, Recorder]:
    recorders: dict[str, Recorder] = {}
    for time_scale in TIME_SCALES:
        try:
            recorders = record(scenario.name, folder / f"x{time_scale:g}", time_scale)
        except AssertionError:
            # A busy machine can hold a line up until no joint ends: slower, as where its samples stalled.
            if time_scale == TIME_SCALES[-1]:
                raise
            continue
        if all(is_as_expected(r, scenario) or not has_stalled(r.samples()) for r in recorders.values()):
            break
    return recorders


def is_as_expected(recorder: Recorder, scenario: Scenario) -> bool:
    judgement = recorder.judgement()
    expected = set(scenario.expected_codes)
    faults = codes_of(judgement, "fault")
    shows_all = len(phase_starts(judgement)) == len(Phase) or scenario.expected_verdict == "undecided"
    verdict = judgement["verdict"]
    return shows_all and verdict == scenario.expected_verdict and faults <= expected <= codes_of(judgement)


def phase_starts(judgement: dict[str, Any]) -> list[float]:
    return [phase["start_s"] for phase in judgement["phases"] if phase["start_s"] is not None]


@pytest.mark.parametrize("name", LIVE)
def test_live_over_both_transports_and_judged_again(name: str, folder: Path) -> None:
    scenario = load_scenario(name)
    recorders = recorded(scenario, folder)
    for recorder in recorders.values():
        check_judgement(recorder, scenario)
        check_judged_again(recorder, scenario)
    tcp, rtu = (recorder.judgement() for recorder in recorders.values())
    assert tcp["verdict"] == rtu["verdict"]
    assert codes_of(tcp) == codes_of(rtu)


def check_judgement(recorder: Recorder, scenario: Scenario) -> None:
    judgement = recorder.judgement()
    expected = set(scenario.expected_codes)
    assert judgement["verdict"] == scenario.expected_verdict, judgement["reasons"]
    assert expected <= codes_of(judgement)
    assert codes_of(judgement, "fault") <= expected
    assert [phase["phase"] for phase in judgement["phases"]] == list(Phase)
    starts = phase_starts(judgement)
    assert starts == sorted(starts)
    assert len(starts) == len(Phase) or scenario.expected_verdict == "undecided"
    assert judgement["origin"] == "simulated"
    assert judgement["time_scale"] == recorder.time_scale
    assert recorder.end().how == "finished"


def check_judged_again(recorder: Recorder, scenario: Scenario) -> None:
    stored = recorder.joint().judgement_text
    place = ["--store", str(recorder.store), "--json"]
    shown = CliRunner().invoke(application([]), ["joints", "show", JOINT, *place])
    assert (shown.exit_code, shown.stdout) == (0, stored)
    again = CliRunner().invoke(application([]), ["rejudge", JOINT, *place])
    assert again.stdout == stored
    assert again.exit_code == EXIT_OF_VERDICT[Verdict(scenario.expected_verdict)]
