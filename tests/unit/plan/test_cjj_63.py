"""CJJ 63-2008, tables 5.2.2: every printed row that was read, SDR 11 and SDR 17.6.

Tolerances: the force column is 0.15 MPa on the area with the wall dn/SDR unrounded, printed to whole newtons:
0.2 %. Heating is exact from the printed wall. The printed wall may differ from dn/SDR by 0.1 mm, which moves
build-up and cooling, read off the line between printed walls, by no more than 0.5 s and 0.5 min.
"""

import pytest

from logger.config.procedures import load_procedure
from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.plan.compute import compute_plan
from tests.unit.plan.joints import joint, pipe

# dn, wall, force N, bead mm, heat s, changeover s, build-up s, cooling min
SDR_11 = [
    (75, 6.8, 219, 1.0, 68, 5, 6, 10), (90, 8.2, 315, 1.5, 82, 6, 7, 11),
    (110, 10.0, 471, 1.5, 100, 6, 7, 14),
    (125, 11.4, 608, 1.5, 114, 6, 8, 15), (140, 12.7, 763, 2.0, 127, 8, 8, 17),
    (160, 14.5, 996, 2.0, 145, 8, 9, 19), (180, 16.4, 1261, 2.0, 164, 8, 10, 21),
    (200, 18.2, 1557, 2.0, 182, 8, 11, 23), (225, 20.5, 1971, 2.5, 205, 10, 12, 26),
    (250, 22.7, 2433, 2.5, 227, 10, 13, 28), (280, 25.5, 3052, 2.5, 255, 12, 14, 31),
    (315, 28.6, 3862, 3.0, 286, 12, 15, 35), (355, 32.3, 4906, 3.0, 323, 12, 17, 39),
    (400, 36.4, 6228, 3.0, 364, 12, 19, 44), (450, 40.9, 7882, 3.5, 409, 12, 21, 50),
    (500, 45.5, 9731, 3.5, 455, 12, 23, 55), (560, 50.9, 12207, 4.0, 509, 12, 25, 61),
    (630, 57.3, 15450, 4.0, 573, 12, 29, 67),
]  # fmt: skip
SDR_17_6 = [
    (110, 6.3, 305, 1.0, 63, 5, 6, 9), (125, 7.1, 394, 1.5, 71, 6, 6, 10), (140, 8.0, 495, 1.5, 80, 6, 6, 11),
    (160, 9.1, 646, 1.5, 91, 6, 7, 13), (180, 10.2, 818, 1.5, 102, 6, 7, 14),
    (200, 11.4, 1010, 1.5, 114, 6, 8, 15), (225, 12.8, 1278, 2.0, 128, 8, 8, 17),
    (250, 14.2, 1578, 2.0, 142, 8, 9, 19), (280, 15.9, 1979, 2.0, 159, 8, 10, 20),
    (315, 17.9, 2505, 2.0, 179, 8, 11, 23), (355, 20.2, 3181, 2.5, 202, 10, 12, 25),
    (400, 22.7, 4039, 2.5, 227, 10, 13, 28), (450, 25.6, 5111, 2.5, 256, 10, 14, 32),
    (500, 28.4, 6310, 3.0, 284, 12, 15, 35), (560, 31.8, 7916, 3.0, 318, 12, 17, 39),
]  # fmt: skip
ROWS = [(11.0, *row) for row in SDR_11] + [(17.6, *row) for row in SDR_17_6]


def plan_of(sdr: float, dn: float, wall: float) -> JointPlan:
    return compute_plan(joint(pipe(dn=dn, wall=wall, sdr=sdr)), load_procedure("cjj-63:2008"))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"SDR{row[0]:g}-dn{row[1]}")
def test_printed_row(row: tuple[float, ...]) -> None:
    sdr, dn, wall, force, bead, heat, changeover, build_up, cooling = row
    from_sdr, printed = plan_of(sdr, dn, dn / sdr), plan_of(sdr, dn, wall)
    assert from_sdr.joining_force_N == pytest.approx(force, rel=0.002)
    assert printed.step_of(Phase.HEAT_SOAK).duration_s.min == pytest.approx(heat, abs=1e-9)
    for plan in (from_sdr, printed):
        assert plan.step_of(Phase.BEAD_UP).bead_height_mm == bead
        assert plan.step_of(Phase.CHANGEOVER).duration_s.max == changeover
        assert plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max == pytest.approx(build_up, abs=0.5)
        cooling_s = plan.step_of(Phase.COOLING).duration_s.min
        assert cooling_s == pytest.approx(60 * cooling, abs=30)


def test_plate_by_grade_and_no_pair_of_grades_with_two_plates() -> None:
    procedure = load_procedure("cjj-63:2008")
    for material, low, high in (("PE80", 200.0, 220.0), ("PE100", 215.0, 235.0)):
        plate = compute_plan(joint(pipe(material=material)), procedure).plate_temperature_degC
        assert (plate.min, plate.max) == (low, high)
    with pytest.raises(Exception, match=r"material\.values_differ"):
        compute_plan(joint(pipe(), pipe(material="PE80")), procedure)
