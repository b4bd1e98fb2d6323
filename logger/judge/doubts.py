"""What cannot be decided: what was missing, and the reading that would have settled it."""

from collections.abc import Sequence

from logger.domain.judgement import Missing, Settles, Undecided
from logger.domain.phase import Phase
from logger.judge.case import Weighed
from logger.judge.decision import JOINT_RISK, RULE_NAME, coverage_factor

_BY_ENDING: dict[str, tuple[Missing, Settles]] = {
    "not_observed": (Missing.SENSOR, Settles.PRESSURE_TRANSMITTER),
    "not_connected": (Missing.SENSOR, Settles.CLOSING_SIDE_GAUGE),
    "trace_ends": (Missing.REST_OF_RECORDING, Settles.LONGER_RECORDING),
    "gap_over_boundary": (Missing.GAP, Settles.UNBROKEN_READINGS),
    "opening_not_visible": (Missing.BOUNDARY, Settles.CARRIAGE_POSITION),
    "edge_not_clear": (Missing.BOUNDARY, Settles.CARRIAGE_POSITION),
    "no_let_down": (Missing.BOUNDARY, Settles.PLATE_SWITCH),
    "contact_not_seen": (Missing.BOUNDARY, Settles.PLATE_SWITCH),
    "no_heating_cycle": (Missing.BOUNDARY, Settles.LONGER_RECORDING),
    "no_plan": (Missing.PLAN, Settles.JOINT_FILE),
    "gauge_pressure_not_planned": (Missing.PLAN, Settles.DRAG_AND_AREA),
}
_BY_UNIT = {"bar": Settles.PRESSURE_TRANSMITTER, "degC": Settles.PLATE_THERMOMETER}
_FACES_MOVE = (Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP)
SAMPLING_SHARE = 0.5
"""From this share of the uncertainty on, it is the sampling that keeps a duration from being decided."""


def doubt(code: str) -> Undecided:
    """An entry for a reason code; its last part says what was missing."""
    missing, settles = _BY_ENDING[code.rpartition(".")[2]]
    if code.startswith("plate.temperature.not_observed"):
        settles = Settles.PLATE_THERMOMETER
    return Undecided(code=code, missing=missing, settles=settles)


def doubts_of(weighed: Sequence[Weighed], interval_s: float) -> tuple[Undecided, ...]:
    """What keeps the joint from being called good: nothing while the risks of all limits sum to 5 % at most.

    A limit weighed more than once counts with its greatest risk. Where the sum is too great, each limit is
    named that takes more than its equal share.
    """
    worst: dict[tuple[str, float], Weighed] = {}
    for one in weighed:
        key = (one.limit.code, one.limit.value)
        if key not in worst or one.risk > worst[key].risk:
            worst[key] = one
    if sum(one.risk for one in worst.values()) <= JOINT_RISK:
        return ()
    share = JOINT_RISK / len(worst)
    return tuple(_too_close(one, share, interval_s) for one in worst.values() if one.risk > share)


def _too_close(one: Weighed, share: float, interval_s: float) -> Undecided:
    """Name the guard band, which is that of a limit alone unless only the sum of several is too great."""
    limit, measured = one.limit, one.measured
    k = coverage_factor(measured, JOINT_RISK if one.risk > JOINT_RISK else share)
    return Undecided(
        code=f"{limit.code}.within_uncertainty",
        missing=Missing.GUARD_BAND,
        settles=_settles(one, interval_s),
        measured=measured.value,
        limit=limit.value,
        unit=limit.unit,
        start_s=one.start_s,
        end_s=one.end_s,
        standard_uncertainty=measured.standard_uncertainty,
        conformance_probability=one.chance,
        coverage_factor=k,
        rule=RULE_NAME,
        needed_u=abs(limit.value - measured.value) / coverage_factor(measured, share),
    )


def _settles(one: Weighed, interval_s: float) -> Settles:
    if one.limit.unit in _BY_UNIT:
        return _BY_UNIT[one.limit.unit]
    sampling_s = interval_s / 6**0.5
    if sampling_s >= SAMPLING_SHARE * one.measured.standard_uncertainty:
        return Settles.FASTER_SAMPLING
    moved = one.limit.code.startswith(tuple(f"{phase}." for phase in _FACES_MOVE))
    return Settles.CARRIAGE_POSITION if moved else Settles.FASTER_SAMPLING
