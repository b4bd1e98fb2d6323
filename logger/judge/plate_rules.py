"""Plate temperature: a window before contact, then bead-up and soak with the contact dip allowed for.

After removal the plate is nobody's business: parked or unplugged is no fault.
"""

from logger.domain.channel import Quantity
from logger.domain.measures import PlateMeasures
from logger.domain.phase import Phase
from logger.judge.budget import mean_of
from logger.judge.case import NOTHING, Case, Outcome, edges_of
from logger.judge.doubts import doubt
from logger.judge.excursions import beyond, smoothed
from logger.judge.hand_readings import plate_by_hand
from logger.judge.heat_rule import heat_at_contact
from logger.phases.series import Series

BEFORE_CONTACT_S = 10.0
CONTACT_DIP_S = 60.0
"""Dwell for the dip on contact; common practice, no source."""
AVERAGING_S = 5.0


def plate_temperature(case: Case) -> Outcome:
    band = case.plan.plate_temperature_degC
    if not band.is_given:
        return NOTHING
    contact_s = case.span(Phase.BEAD_UP).start.at_s
    if contact_s is None:
        return Outcome(undecided=(doubt("plate.temperature.contact_not_seen"),))
    before = _before(case, contact_s)
    if not len(before):
        return plate_by_hand(case, contact_s)
    mean_degC, u_degC, _ = mean_of(before.values)
    mean = case.weighed(Quantity.PLATE_TEMPERATURE, mean_degC, u_degC)
    outcome = NOTHING
    for limit in edges_of(band, "plate.temperature", "degC"):
        outcome += limit.check(mean, before.t_s[0], before.t_s[-1])
    return outcome if outcome.findings else outcome + _while_heating(case, contact_s)


def plate_measures(case: Case) -> PlateMeasures:
    """Before contact, at removal, and the dip between."""
    contact_s, out_s = case.span(Phase.BEAD_UP).start.at_s, case.span(Phase.CHANGEOVER).start.at_s
    heating = None
    if contact_s is not None and out_s is not None:
        heating = smoothed(case.plate_temperature.window(contact_s, out_s), AVERAGING_S).series
    status = heat_at_contact(case)
    return PlateMeasures(
        at_contact_degC=None if contact_s is None else _mean(_before(case, contact_s)),
        at_removal_degC=None
        if out_s is None
        else _mean(case.plate_temperature.window(out_s - AVERAGING_S, out_s)),
        least_degC=round(min(heating.values), 3) if heating is not None and len(heating) else None,
        heat="" if status is None else status.heat,
        heat_through_s=None if status is None or status.gone_s is None else round(status.gone_s, 3),
    )


def _before(case: Case, contact_s: float) -> Series:
    return case.plate_temperature.window(contact_s - BEFORE_CONTACT_S, contact_s)


def _mean(series: Series) -> float | None:
    return round(sum(series.values) / len(series), 3) if len(series) else None


def _while_heating(case: Case, contact_s: float) -> Outcome:
    """The same band from contact to removal, lows only after the dip has had its time."""
    out_s = case.span(Phase.CHANGEOVER).start.at_s
    if out_s is None:
        return NOTHING
    smooth = smoothed(case.plate_temperature.window(contact_s, out_s), AVERAGING_S)
    outcome = NOTHING
    for limit in edges_of(case.plan.plate_temperature_degC, "plate.temperature", "degC"):
        if limit.is_max:
            found = beyond(smooth, high=limit.value)
        else:
            found = tuple(e for e in beyond(smooth, low=limit.value) if e.end_s > contact_s + CONTACT_DIP_S)
        if found:
            pick = max if limit.is_max else min
            worst = pick(found, key=lambda excursion: excursion.extreme)
            held = case.weighed(Quantity.PLATE_TEMPERATURE, worst.extreme)
            outcome += limit.check(held, found[0].start_s, found[-1].end_s)
    return outcome
