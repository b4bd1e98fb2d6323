"""DVS 2207-1: the printed rows at their ends and inside, in both editions."""

import pytest

from logger.config.procedures import load_procedure
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.domain.source import Mark
from logger.plan.compute import compute_plan
from tests.unit.plan.joints import joint, pipe

# Edition 2005-09, guide values as restated in a gas trade journal: wall mm, bead mm, heat s, changeover s,
# build-up s, cooling min. The walls between the ends of a row are its middle, interpolated by hand.
ROWS_2005 = [
    (2.0, 0.5, 20, 5, 5, 6),
    (4.5, 0.5, 45, 5, 5, 6),
    (5.75, 1.0, 57.5, 5.5, 5.5, 8),
    (7.0, 1.0, 70, 6, 6, 10),
    (9.5, 1.5, 95, 7, 7, 13),
    (12.0, 1.5, 120, 8, 8, 16),
    (15.5, 2.0, 155, 9, 9.5, 20),
    (19.0, 2.0, 190, 10, 11, 24),
    (22.5, 2.5, 225, 11, 12.5, 28),
    (26.0, 2.5, 260, 12, 14, 32),
    (37.0, 3.0, 370, 16, 19, 45),
    (50.0, 3.5, 500, 20, 25, 60),
    (60.0, 4.0, 600, 22.5, 30, 70),
    (70.0, 4.0, 700, 25, 35, 80),
]

# Edition 2015-08, from memory: wall mm, bead mm, changeover s, build-up s, cooling min below 15, 25, 40 degC.
ROWS_2015 = [
    (4.5, 0.5, 5, 5, 4.0, 5.0, 6.5),
    (7.0, 1.0, 6, 6, 6.0, 7.5, 9.5),
    (9.5, 1.5, 7, 7, 7.75, 9.75, 12.5),
    (12.0, 1.5, 8, 8, 9.5, 12, 15.5),
    (19.0, 2.0, 10, 11, 14, 18, 24),
    (26.0, 2.5, 12, 14, 19, 24, 32),
    (37.0, 3.0, 16, 19, 27, 34, 45),
    (50.0, 3.5, 20, 25, 36, 46, 61),
    (70.0, 4.0, 25, 35, 50, 64, 85),
    (80.0, 4.5, 27.5, 35, 57, 73, 97),
    (90.0, 4.5, 30, 35, 64, 82, 109),
    (110.0, 5.0, 35, 35, 78, 100, 133),
    (130.0, 5.5, 35, 35, 92, 118, 157),
]


def plan_of(procedure: str, wall: float, ambient: float | None = 20.0) -> JointPlan:
    return compute_plan(joint(pipe(dn=12 * wall, wall=wall), ambient=ambient), load_procedure(procedure))


@pytest.mark.parametrize(("wall", "bead", "heat", "changeover", "build_up", "cooling"), ROWS_2005)
def test_2005_rows(
    wall: float, bead: float, heat: float, changeover: float, build_up: float, cooling: float
) -> None:
    plan = plan_of("dvs-2207-1:2005", wall)
    assert plan.step_of(Phase.BEAD_UP).bead_height_mm == bead
    soak = plan.step_of(Phase.HEAT_SOAK).duration_s
    assert soak.min == pytest.approx(heat)
    assert (soak.target, soak.max) == (soak.min, None)
    assert plan.step_of(Phase.CHANGEOVER).duration_s.max == pytest.approx(changeover)
    assert plan.step_of(Phase.CHANGEOVER).duration_s.min is None
    assert plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max == pytest.approx(build_up)
    assert plan.step_of(Phase.COOLING).duration_s.min == pytest.approx(60 * cooling)
    assert plan.step_of(Phase.COOLING).duration_s.max is None


@pytest.mark.parametrize(("wall", "bead", "changeover", "build_up", "cold", "mild", "warm"), ROWS_2015)
def test_2015_rows(
    wall: float, bead: float, changeover: float, build_up: float, cold: float, mild: float, warm: float
) -> None:
    for ambient, cooling in ((10.0, cold), (20.0, mild), (30.0, warm)):
        plan = plan_of("dvs-2207-1:2015", wall, ambient)
        assert plan.step_of(Phase.BEAD_UP).bead_height_mm == bead
        assert plan.step_of(Phase.HEAT_SOAK).duration_s.min == pytest.approx(10 * wall)
        assert plan.step_of(Phase.CHANGEOVER).duration_s.max == pytest.approx(changeover)
        assert plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max == pytest.approx(build_up)
        assert plan.step_of(Phase.COOLING).duration_s.min == pytest.approx(60 * cooling)


@pytest.mark.parametrize(("edge", "longer_min"), [(15.0, 12.0), (25.0, 15.5), (40.0, 15.5)])
def test_2015_ambient_on_an_edge_takes_the_longer_time(edge: float, longer_min: float) -> None:
    cooling = plan_of("dvs-2207-1:2015", 12.0, edge).step_of(Phase.COOLING).duration_s
    assert cooling.min == pytest.approx(60 * longer_min)


def test_plate_temperature_and_pressures_by_edition() -> None:
    old, new = plan_of("dvs-2207-1:2005", 10.0), plan_of("dvs-2207-1:2015", 10.0)
    plate = old.plate_temperature_degC
    assert (plate.min, plate.target, plate.max) == (200.0, None, 220.0)
    plate = new.plate_temperature_degC
    assert (plate.min, plate.target, plate.max) == (210.0, 220.0, 230.0)
    assert old.step_of(Phase.HEAT_SOAK).interface_pressure_MPa.max == 0.02
    assert new.step_of(Phase.HEAT_SOAK).interface_pressure_MPa.max == 0.01
    for plan in (old, new):
        joining = plan.step_of(Phase.COOLING).interface_pressure_MPa
        assert (joining.min, joining.target, joining.max) == (0.14, 0.15, 0.16)


def test_marks_travel_with_the_values() -> None:
    old, new = plan_of("dvs-2207-1:2005", 10.0), plan_of("dvs-2207-1:2015", 10.0)
    assert old.step_of(Phase.COOLING).duration_s.source.mark is Mark.SEEN
    assert new.step_of(Phase.COOLING).duration_s.source.mark is Mark.MEMORY
    assert new.step_of(Phase.COOLING).gauge_pressure_bar.source.mark is Mark.MEMORY
    assert new.step_of(Phase.BEAD_UP).duration_s.source.mark is Mark.NOT_GIVEN


def test_a_2005_plan_needs_no_ambient() -> None:
    assert plan_of("dvs-2207-1:2005", 10.0, None).step_of(Phase.COOLING).duration_s.min == pytest.approx(816)
