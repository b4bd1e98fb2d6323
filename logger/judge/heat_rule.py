"""Whether the plate was hot all through when the ends met it: a remark at most, never a fault.

Where its switch-on was not seen, and the time in the band seen so far is too short, nobody knows: then there
is no remark either, and the measures say that it was not observed.
"""

from logger.domain.heat_through import Heat, HeatStatus, heat_status, heat_through, plate_heat_of
from logger.domain.judgement import Severity
from logger.domain.phase import Phase
from logger.judge.case import NOTHING, Case, Limit, Outcome
from logger.judge.decision import Measured

SHORT = "plate.heat_through.short"


def heat_at_contact(case: Case) -> HeatStatus | None:
    """Where the plate stood at contact; None where no time is asked or contact was not seen."""
    contact_s = case.span(Phase.BEAD_UP).start.at_s
    if contact_s is None:
        return None
    before = case.plate_known.before or plate_heat_of(case.plan.plate_temperature_degC)
    series = case.plate_temperature
    seen = ((t_s, degC) for t_s, degC in zip(series.t_s, series.values, strict=True) if t_s <= contact_s)
    return heat_status(heat_through(before, seen), case.plan.heat_through_s, contact_s)


def plate_heat_through(case: Case) -> Outcome:
    """Remark a contact that came before the plate had been in its band for long enough."""
    status = heat_at_contact(case)
    if status is None or status.gone_s is None or status.heat not in (Heat.WARMING, Heat.COUNTING):
        return NOTHING
    limit = Limit(SHORT, status.needed_s, "s", status.source, is_max=False, severity=Severity.REMARK)
    contact_s = case.span(Phase.BEAD_UP).start.at_s
    return limit.check(Measured(status.gone_s), contact_s, None)
