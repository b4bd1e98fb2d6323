"""The plan of one joint: a value that is printed, drawn, judged against and stored."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from logger.domain.band import NO_BAND, Band
from logger.domain.phase import Phase
from logger.domain.procedure import BeadMeasure, CoolingEndKind, PreparationLimit
from logger.domain.source import NOT_GIVEN, Source


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One step. `step` numbers repeated cooling steps from 1; it is None where a phase has a single step.

    `gauge_pressure_bar` includes drag and is all None while drag or piston area is unknown. An excursion of
    `dwell_s` at most is a remark; in cooling only from `dwell_after_s` after the faces' first contact on.
    """

    phase: Phase
    step: int | None = None
    gauge_pressure_bar: Band
    interface_pressure_MPa: Band
    duration_s: Band
    bead_height_mm: float | None = None
    bead_height_source: Source
    dwell_s: float = 0.0
    dwell_after_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """A caution or remark: a code and its parameters; its text lives in `logger.wording`."""

    code: str
    parameters: Mapping[str, str | float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingEnd:
    """One of the ends of cooling after the pressure is taken off, counted from that moment."""

    kind: CoolingEndKind
    duration_s: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class JointPlan:
    """Everything the procedure asks of this joint, with the source beside each value.

    `soak_limit_includes_drag` is true where the gauge limit of heat soak is an interface limit plus drag, and
    false where the procedure says "drag or less": there drag itself is the limit, the interface is not given.
    `bead_measure` says which dimension of the bead `bead_height_mm` is. `notes` are the procedure file's own;
    `procedure_digest` is the SHA-256 of that file.
    `heat_through_s` is the least time of the plate in its band before work, empty in a plan from before it
    was counted.
    """

    procedure: str
    title: str
    material: str
    outside_diameter_mm: float
    wall_mm: float
    wall_rule: str
    sdr: float | None
    pipe_area_mm2: float
    piston_area_mm2: float | None
    drag_pressure_bar: float | None
    ambient_temperature_degC: float | None
    joining_force_N: float
    plate_temperature_degC: Band
    steps: tuple[PlanStep, ...]
    soak_limit_includes_drag: bool
    soak_limit_source: Source = NOT_GIVEN
    bead_measure: BeadMeasure = BeadMeasure.HEIGHT
    cooling_ends: tuple[CoolingEnd, ...] = ()
    preparation: tuple[PreparationLimit, ...] = ()
    heat_through_s: Band = NO_BAND
    notes: tuple[str, ...] = ()
    procedure_digest: str = ""
    cautions: tuple[Notice, ...] = ()
    remarks: tuple[Notice, ...] = ()

    def step_of(self, phase: Phase) -> PlanStep:
        """Return the first step of `phase`. Raises KeyError when the plan has none."""
        for step in self.steps:
            if step.phase is phase:
                return step
        raise KeyError(phase)

    def steps_of(self, phase: Phase) -> tuple[PlanStep, ...]:
        return tuple(step for step in self.steps if step.phase is phase)
