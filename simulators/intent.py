"""What the operator means to do on this joint: the plan's numbers, own habits, and the faults asked for.

Unit of a fault's `magnitude`:

    slow_changeover, slow_build_up     s past the plan's longest time
    short_soak, early_release          s short of the plan's shortest time
    long_soak, long_bead_up            s beyond the usual time
    fast_build_up                      s, the whole build-up
    soak_pressure                      MPa at the interface above the plan's highest
    bead_up_pressure, cooling_pressure MPa at the interface off the target, either way
    overshoot                          MPa at the interface above the target, at the peak
    pressure_lost                      MPa at the interface lost, `after_s` into cooling, within `duration_s`
    pressure_step                      MPa gained or, negative, lost: an accumulator, `after_s` into cooling
    pack_stopped                       shut in `after_s` into cooling for `duration_s`, 0: for good
    restart_unfaced, restart_faced     s of a first bead-up that is broken off
    contact_lost                       mm between faces and plate, `after_s` into the soak, for `duration_s`
    contact_repeated                   mm between faces that have touched, before they are closed again
    nudges, plate_moved                MPa above the soak's, `after_s` into it, each for `duration_s`
    plate_setting                      degC off the target, either way
"""

from dataclasses import dataclass

from simulators.scenario import FaultKind, Scenario


@dataclass(frozen=True, slots=True, kw_only=True)
class Intent:
    """Gauge pressures in bar, drag included, and times in s."""

    bead_up_bar: float
    bead_up_s: float
    soak_bar: float
    soak_s: float
    changeover_s: float
    build_up_s: float
    joining_bar: float
    band_edge_bar: float
    """Lower edge of the plan's joining band: cooling begins where pressure enters it."""
    peak_bar: float
    """Highest pressure of the build-up; the joining pressure unless the operator overshoots."""
    cooling_s: float
    first_stage_s: float
    """Until joining pressure is let down to `second_bar`; 0 where it is not."""
    second_bar: float
    plate_setting_degC: float


def intent_of(scenario: Scenario, cooling_s: float | None = None) -> Intent:
    """Fold targets, habits and faults; `cooling_s` replaces the time under pressure (for short traces)."""
    targets, operator = scenario.targets, scenario.operator

    def total(kind: FaultKind) -> float:
        return sum(fault.magnitude for fault in scenario.faults(kind))

    def has(kind: FaultKind) -> bool:
        return bool(scenario.faults(kind))

    changeover_s = targets.changeover_max_s * operator.changeover_share
    if has("slow_changeover"):
        changeover_s = targets.changeover_max_s + total("slow_changeover")
    build_up_s = targets.build_up_max_s * operator.build_up_share
    if has("slow_build_up"):
        build_up_s = targets.build_up_max_s + total("slow_build_up")
    if has("fast_build_up"):
        build_up_s = total("fast_build_up")
    soak_s = targets.soak_min_s + operator.soak_margin_s + total("long_soak")
    if has("short_soak"):
        soak_s = targets.soak_min_s - total("short_soak")
    soak_bar = scenario.gauge_bar(targets.soak_limit_interface_MPa) * operator.soak_share_of_limit
    if has("soak_pressure"):
        soak_bar = scenario.gauge_bar(targets.soak_limit_interface_MPa + total("soak_pressure"))
    if cooling_s is None:
        cooling_s = targets.cooling_min_s + operator.cooling_margin_s
        if has("early_release"):
            cooling_s = targets.cooling_min_s - total("early_release")
    joining_MPa = targets.joining_interface_MPa
    cooling_MPa = joining_MPa + total("cooling_pressure")
    return Intent(
        bead_up_bar=scenario.gauge_bar(joining_MPa + total("bead_up_pressure")),
        bead_up_s=targets.bead_up_s + total("long_bead_up"),
        soak_bar=soak_bar,
        soak_s=soak_s,
        changeover_s=changeover_s,
        build_up_s=build_up_s,
        joining_bar=scenario.gauge_bar(cooling_MPa),
        band_edge_bar=scenario.gauge_bar(joining_MPa - targets.joining_tolerance_MPa),
        peak_bar=scenario.gauge_bar(cooling_MPa + total("overshoot")),
        cooling_s=cooling_s,
        first_stage_s=targets.first_stage_s,
        second_bar=scenario.gauge_bar(targets.second_interface_MPa),
        plate_setting_degC=targets.plate_degC + total("plate_setting"),
    )
