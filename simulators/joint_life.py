"""The whole life of a joint as steps, or of several, one after the other on the same rig."""

from dataclasses import replace

from simulators.heating_steps import heating
from simulators.intent import Intent, intent_of
from simulators.operator_script import Step
from simulators.preparation_steps import open_to_the_stop, preparation
from simulators.scenario import Scenario
from simulators.welding_steps import changeover, welding


def life_steps(scenario: Scenario, intent: Intent) -> list[Step]:
    """Everything the operator does, from the idle rig to the idle rig; faults befall the last joint only."""
    good = replace(scenario, fault=())
    earlier = _joint(good, intent_of(good, intent.cooling_s)) + open_to_the_stop(good)
    return earlier * (scenario.operator.joints - 1) + _joint(scenario, intent)


def _joint(scenario: Scenario, intent: Intent) -> list[Step]:
    return [
        *preparation(scenario, intent),
        *heating(scenario, intent),
        *changeover(scenario, intent),
        *welding(scenario, intent),
    ]
