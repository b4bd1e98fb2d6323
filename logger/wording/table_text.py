"""Plans of many pipes on one rig as a table: what goes on the wall of the workshop."""

from collections.abc import Mapping

from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.errors import ProcedureRefusal
from logger.wording.plan_text import mark_text
from logger.wording.refusals import refusal_text
from logger.wording.units import METRIC, Units

HEADINGS = ("dn", "SDR", "wall", "bead-up gauge", "bead", "soak s", "soak gauge", "changeover s",
            "build-up s", "joining gauge", "cooling s")  # fmt: skip


def table_lines(
    plans: Mapping[tuple[float, float], JointPlan | ProcedureRefusal],
    example: JointPlan,
    units: Units = METRIC,
) -> list[str]:
    """Word plans by (diameter in mm, SDR); sizes that the procedure does not cover are counted by reason."""
    rows: list[tuple[str, ...]] = [HEADINGS]
    refused: dict[str, int] = {}
    for plan in plans.values():
        if isinstance(plan, ProcedureRefusal):
            refused[plan.code] = refused.get(plan.code, 0) + 1
        else:
            rows.append(_row(plan, units))
    widths = [max(len(row[k]) for row in rows) for k in range(len(HEADINGS))]
    lines = [example.title, f"gauge pressures in {units.pressure}, drag included; lengths in {units.length}"]
    lines += ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    example_of = {plan.code: plan for plan in plans.values() if isinstance(plan, ProcedureRefusal)}
    lines += [
        f"left out: {count} sizes, for example {refusal_text(example_of[code])}"
        for code, count in refused.items()
    ]
    marks = sorted({mark_text(step.duration_s.source) for step in example.steps if step.duration_s.is_given})
    return [
        *lines,
        f"marks of the times: {'; '.join(marks)}",
        "Drag is measured for every joint: add its own.",
    ]


def _row(plan: JointPlan, units: Units) -> tuple[str, ...]:
    bead_up, soak = plan.step_of(Phase.BEAD_UP), plan.step_of(Phase.HEAT_SOAK)
    joining = plan.steps_of(Phase.COOLING)
    digits = 1 if units.length == "mm" else 3
    bead = bead_up.bead_height_mm
    cooling_s = [s.duration_s.min if s.duration_s.min is not None else s.duration_s.target for s in joining]
    known = [seconds for seconds in cooling_s if seconds is not None]
    return (
        f"{units.length_of(plan.outside_diameter_mm):g}",
        "" if plan.sdr is None else f"{plan.sdr:g}",
        f"{units.length_of(plan.wall_mm):.{digits}f}",
        _number(bead_up.gauge_pressure_bar.target, units),
        "-" if bead is None else f"{units.length_of(bead):.{digits}f}",
        _seconds(soak.duration_s.target if soak.duration_s.target is not None else soak.duration_s.min),
        _soak_gauge(plan, units),
        _seconds(plan.step_of(Phase.CHANGEOVER).duration_s.max),
        _seconds(plan.step_of(Phase.PRESSURE_BUILD_UP).duration_s.max),
        " / ".join(_number(step.gauge_pressure_bar.target, units) for step in joining),
        _seconds(sum(known) if known else None),
    )


def _soak_gauge(plan: JointPlan, units: Units) -> str:
    """The upper limit on the gauge; where the procedure says "drag or less", those words."""
    if not plan.soak_limit_includes_drag:
        return "drag or less"
    return _number(plan.step_of(Phase.HEAT_SOAK).gauge_pressure_bar.max, units)


def _number(bar: float | None, units: Units) -> str:
    return "-" if bar is None else f"{units.gauge_of(bar):.1f}"


def _seconds(seconds: float | None) -> str:
    return "-" if seconds is None else f"{seconds:.0f}"
