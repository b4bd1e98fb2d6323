"""Plans written by hand for the drawn curves: nothing of a procedure file in them."""

from logger.domain.band import NO_BAND, Band
from logger.domain.joint_plan import JointPlan, PlanStep
from logger.domain.phase import Phase
from logger.domain.source import NOT_GIVEN, Mark, Source
from tests.drawn import DRAG_BAR, JOINING_BAR

SOURCE = Source(mark=Mark.PRACTICE, text="invented for the tests")


def band(low: float | None = None, target: float | None = None, high: float | None = None) -> Band:
    return Band(min=low, target=target, max=high, source=SOURCE)


def around(target: float, tolerance: float) -> Band:
    return band(target - tolerance, target, target + tolerance)


def step(phase: Phase, gauge: Band = NO_BAND, seconds: Band = NO_BAND, number: int | None = None) -> PlanStep:
    return PlanStep(
        phase=phase,
        step=number,
        gauge_pressure_bar=gauge,
        interface_pressure_MPa=NO_BAND,
        duration_s=seconds,
        bead_height_source=NOT_GIVEN,
    )


JOINING = around(JOINING_BAR, 1.5)
PLATE = around(220.0, 10.0)


def plan_of(
    *,
    bead_up: Band = JOINING,
    soak_max_bar: float | None = DRAG_BAR + 1.5,
    soak_s: float = 100.0,
    changeover_max_s: float | None = 6.0,
    build_up_max_s: float | None = 6.0,
    cooling: tuple[tuple[Band, float], ...] = ((JOINING, 280.0),),
    plate_degC: Band = PLATE,
    drag_bar: float = DRAG_BAR,
) -> JointPlan:
    """The plan that `draw_joint()` with its defaults keeps to; `cooling` lists (gauge band, least time)."""
    numbers = [None] if len(cooling) == 1 else range(1, len(cooling) + 1)
    return JointPlan(
        procedure="drawn:1",
        title="Invented procedure",
        material="PE100",
        outside_diameter_mm=180.0,
        wall_mm=16.4,
        wall_rule="entered",
        sdr=None,
        pipe_area_mm2=8429.0,
        piston_area_mm2=629.0,
        drag_pressure_bar=drag_bar,
        ambient_temperature_degC=20.0,
        joining_force_N=1264.0,
        plate_temperature_degC=plate_degC,
        steps=(
            step(Phase.BEAD_UP, bead_up),
            step(Phase.HEAT_SOAK, band(high=soak_max_bar), band(low=soak_s)),
            step(Phase.CHANGEOVER, seconds=band(high=changeover_max_s)),
            step(Phase.PRESSURE_BUILD_UP, seconds=band(high=build_up_max_s)),
            *(
                step(Phase.COOLING, gauge, band(low=least_s), number)
                for number, (gauge, least_s) in zip(numbers, cooling, strict=True)
            ),
        ),
        soak_limit_includes_drag=True,
    )
