"""The table of the live phases: whole, connected, and each cue with its own check."""

from collections.abc import Iterable

import pytest

from logger.domain.phase import PHASES, Phase
from logger.phases.cue_checks import CHECKS
from logger.phases.transitions import TRANSITIONS, Cue, cues_in

STATES: tuple[Phase | None, ...] = (None, *PHASES)


def reachable(start: Phase | None, edges: Iterable[tuple[Phase | None, Phase | None]]) -> set[Phase | None]:
    seen, waiting = {start}, [start]
    links = list(edges)
    while waiting:
        here = waiting.pop()
        for a, b in links:
            if a is here and b not in seen:
                seen.add(b)
                waiting.append(b)
    return seen


EDGES = [(before, after) for (before, _), after in TRANSITIONS.items()]


def test_every_cue_is_looked_for_somewhere_and_has_its_check():
    assert {cue for _, cue in TRANSITIONS} == set(Cue)
    assert set(CHECKS) == set(Cue)


@pytest.mark.parametrize("state", STATES)
def test_the_cues_of_a_phase_are_exactly_the_rows_of_the_table(state):
    cues = cues_in(state)
    assert cues
    assert len(set(cues)) == len(cues)
    assert set(cues) == {cue for cue in Cue if (state, cue) in TRANSITIONS}


def test_every_phase_can_be_reached_from_preparation():
    assert reachable(None, EDGES) == set(STATES)


def test_from_every_phase_the_rig_gets_back_to_preparation():
    """No phase can trap the tracker."""
    back = [(after, before) for before, after in EDGES]
    assert reachable(None, back) == set(STATES)


def test_a_joint_begins_with_bead_up_and_only_a_cooling_that_was_not_over_is_gone_back_to():
    assert {after for before, after in EDGES if before is None} == {Phase.BEAD_UP, Phase.COOLING}
    assert TRANSITIONS[None, Cue.BACK_IN_COOLING] is Phase.COOLING


def test_no_transition_stays_where_it_is():
    assert all(before is not after for before, after in EDGES)


def test_a_whole_cycle_ends_by_release_out_of_cooling_alone():
    assert [state for state, cue in TRANSITIONS if cue is Cue.RELEASED] == [Phase.COOLING]


def test_phases_are_only_skipped_where_an_opening_can_go_unseen():
    forward = {
        (before, after)
        for before, after in EDGES
        if before is not None and after is not None and PHASES.index(after) > PHASES.index(before) + 1
    }
    assert forward == {(Phase.BEAD_UP, Phase.CHANGEOVER), (Phase.HEAT_SOAK, Phase.PRESSURE_BUILD_UP)}
