"""The plate read by hand where no sensor is fitted: both faces, in time, with its uncertainty."""

from dataclasses import replace

import pytest

from logger.domain.channel import Channel, Quantity, Scaling
from logger.domain.hand_reading import HandReading
from logger.domain.judgement import Verdict
from logger.domain.plate_known import PlateKnown
from logger.judge.hand_readings import AGE_S, READ_BY_HAND
from logger.judge.judge import judge
from tests.drawn import draw_joint
from tests.unit.judge.plans import plan_of
from tests.unit.judge.test_judge import LINE_SIDE, faults

DRAWN = draw_joint()
SAMPLES = [replace(sample, plate_temperature_degC=None) for sample in DRAWN.samples()]
CONTACT_S = DRAWN.truth["bead_up"][0]


def reading(
    degC: float = 221.0, face: str = "both", before_s: float = 10.0, u_degC: float = 1.5
) -> HandReading:
    return HandReading(temperature_degC=degC, u_degC=u_degC, face=face, taken_at_s=CONTACT_S - before_s)


def judged(*readings: HandReading, rig=LINE_SIDE, samples=SAMPLES):
    return judge(
        samples, joint="D-1", plan=plan_of(), rig=rig, plate_known=PlateKnown(hand_readings=readings)
    )


def test_without_sensor_and_reading_the_plate_is_undecided():
    judgement = judged()
    assert judgement.verdict is Verdict.UNDECIDED
    assert judgement.reasons == ("plate.temperature.not_observed",)


def test_a_reading_of_both_sides_decides_and_the_judgement_says_so():
    judgement = judged(reading())
    assert judgement.verdict is Verdict.CONFORMING
    assert READ_BY_HAND in judgement.information
    assert "plate.uncertainty.not_declared" not in judgement.information


def test_a_cold_side_is_a_fault_with_the_instruments_uncertainty():
    judgement = judged(reading(face="fixed"), reading(203.0, face="moving"))
    assert faults(judgement) == {"plate.temperature.low"}
    (finding,) = judgement.findings
    assert (finding.measured, finding.standard_uncertainty) == (203.0, 1.5)
    assert judgement.verdict is Verdict.NONCONFORMING


def test_too_close_for_the_instrument_is_undecided():
    judgement = judged(reading(211.0, u_degC=3.0))
    assert judgement.reasons == ("plate.temperature.low.within_uncertainty",)


@pytest.mark.parametrize(
    "readings",
    [
        (reading(face="fixed"),),
        (reading(before_s=AGE_S + 1.0),),
        (reading(before_s=-1.0),),
    ],
    ids=["one side", "too old", "after contact"],
)
def test_a_reading_that_says_nothing_of_the_contact_decides_nothing(readings):
    assert judged(*readings).reasons == ("plate.temperature.not_observed",)


def test_the_last_reading_of_a_side_counts():
    early = reading(203.0, before_s=60.0)
    assert judged(early, reading(before_s=20.0)).verdict is Verdict.CONFORMING
    assert faults(judged(reading(before_s=60.0), reading(203.0, face="moving", before_s=20.0))) == {
        "plate.temperature.low"
    }


def test_a_fitted_sensor_is_never_replaced_by_a_hand():
    plate = Channel(quantity=Quantity.PLATE_TEMPERATURE, scaling=Scaling(gain=0.1))
    rig = replace(LINE_SIDE, channels=(plate,))
    assert judged(reading(), rig=rig).reasons == ("plate.temperature.not_observed",)
    cold = [replace(sample, plate_temperature_degC=203.0) for sample in SAMPLES]
    assert faults(judged(reading(), rig=rig, samples=cold)) == {"plate.temperature.low"}
