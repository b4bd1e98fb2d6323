"""Faces that part where they must not, by the opening alone."""

import pytest

from logger.domain.phase import Phase
from tui.faces import Faces


def apart_mm(*steps: tuple[Phase, float]) -> list[float]:
    """What is said of each opening, mm, in its phase."""
    faces, before, said = Faces(), None, []
    for phase, opening_mm in steps:
        if phase is not before:
            faces.enter(before, phase)
            before = phase
        said.append(faces.apart_mm(phase, opening_mm))
    return said


SOAK = ((Phase.HEAT_SOAK, 12.0), (Phase.HEAT_SOAK, 11.9))
OPENING = ((Phase.CHANGEOVER, 12.0), (Phase.CHANGEOVER, 90.0))


def test_a_closing_stroke_called_build_up_too_early_has_parted_nothing():
    closing = ((Phase.PRESSURE_BUILD_UP, 60.0), (Phase.PRESSURE_BUILD_UP, 20.0), (Phase.COOLING, 0.2))
    assert apart_mm(*SOAK, *OPENING, *closing) == [0.0] * 7


@pytest.mark.parametrize("phase", [Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP, Phase.COOLING])
def test_what_has_touched_and_parts_is_said_with_how_far(phase):
    assert apart_mm(*SOAK, *OPENING, (phase, 0.2), (phase, 4.2))[-1] == pytest.approx(4.0)


def test_faces_that_leave_the_plate_in_the_soak_are_apart():
    assert apart_mm(*SOAK, (Phase.HEAT_SOAK, 15.0))[-1] == pytest.approx(3.1)
