"""The plate's limits where no plate sensor is fitted: readings taken by hand shortly before contact.

A reading decides only with the uncertainty of its instrument, and both faces have to be read: the last
reading of each counts. Where a sensor is fitted its readings alone are judged.
"""

from logger.domain.channel import Quantity
from logger.domain.hand_reading import BOTH, FACES, HandReading
from logger.judge.case import NOTHING, Case, Outcome, edges_of
from logger.judge.decision import Measured
from logger.judge.doubts import doubt

READ_BY_HAND = "plate.temperature.read_by_hand"
AGE_S = 300.0
"""A reading older than this at contact says nothing of the contact: a choice, no source."""


def plate_by_hand(case: Case, contact_s: float) -> Outcome:
    """Weigh each face's reading against both edges of the band; undecided where a face was not read."""
    readings = readings_of(case, contact_s)
    if not readings:
        return Outcome(undecided=(doubt("plate.temperature.not_observed"),))
    outcome = NOTHING
    for reading in readings:
        measured = Measured(reading.temperature_degC, reading.u_degC)
        for limit in edges_of(case.plan.plate_temperature_degC, "plate.temperature", "degC"):
            outcome += limit.check(measured, reading.taken_at_s, reading.taken_at_s)
    return outcome


def readings_of(case: Case, contact_s: float) -> tuple[HandReading, ...]:
    """The last reading of each face before contact; none where a sensor is fitted or a face is missing."""
    if case.rig is None or case.rig.channel_of(Quantity.PLATE_TEMPERATURE) is not None:
        return ()
    counted = [
        one for one in case.plate_known.hand_readings if contact_s - AGE_S <= one.taken_at_s <= contact_s
    ]
    last = {}
    for reading in sorted(counted, key=lambda one: one.taken_at_s):
        for face in FACES if reading.face == BOTH else (reading.face,):
            last[face] = reading
    return tuple(dict.fromkeys(last.values())) if all(face in last for face in FACES) else ()
