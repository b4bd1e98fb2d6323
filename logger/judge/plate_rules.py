"""Plate temperature: a window before contact, then bead-up and soak with the contact dip allowed for.

After removal the plate is nobody's business: parked or unplugged is no fault.
"""

from logger.domain.channel import Quantity
from logger.domain.phase import Phase
from logger.judge.case import NOTHING, Case, Outcome, edges_of
from logger.judge.decision import Measured
from logger.judge.excursions import beyond, smoothed

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
        return Outcome(undecided=("plate.temperature.contact_not_seen",))
    before = case.plate_temperature.window(contact_s - BEFORE_CONTACT_S, contact_s)
    if not len(before):
        return Outcome(undecided=("plate.temperature.not_observed",))
    mean = Measured(sum(before.values) / len(before), case.u_of(Quantity.PLATE_TEMPERATURE))
    outcome = NOTHING
    for limit in edges_of(band, "plate.temperature", "degC"):
        outcome += limit.check(mean, before.t_s[0], before.t_s[-1])
    return outcome if outcome != NOTHING else _while_heating(case, contact_s)


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
            u = case.u_of(Quantity.PLATE_TEMPERATURE)
            outcome += limit.check(Measured(worst.extreme, u), found[0].start_s, found[-1].end_s)
    return outcome
