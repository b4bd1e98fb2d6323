"""What must hold for every pipe: drag only shifts, thicker takes longer, no jump where none is printed."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.config.procedures import available_procedures
from logger.domain.joint_plan import JointPlan
from logger.domain.procedure import Procedure
from logger.plan.compute import compute_plan
from tests.unit.plan.joints import joint, pipe

PROCEDURES = [procedure for _, procedure in sorted(available_procedures().items())]
walls = st.floats(2.0, 69.0)
drags = st.floats(0.0, 60.0)


def plan_of(procedure: Procedure, wall: float, drag: float = 10.0, ambient: float = 20.0) -> JointPlan:
    end = pipe(dn=11 * wall, wall=wall, material=sorted(procedure.materials)[-1], sdr=11.0)
    return compute_plan(joint(end, drag=drag, ambient=ambient), procedure)


@pytest.mark.parametrize("procedure", PROCEDURES, ids=lambda procedure: procedure.id)
@given(share=st.floats(0, 1), drag=drags, more=drags)
def test_drag_only_shifts_the_gauge(procedure: Procedure, share: float, drag: float, more: float) -> None:
    wall = 20.5 + 4.5 * share
    low, high = plan_of(procedure, wall, drag), plan_of(procedure, wall, drag + more)
    for before, after in zip(low.steps, high.steps, strict=True):
        a, b = before.gauge_pressure_bar, after.gauge_pressure_bar
        for edge_a, edge_b in ((a.min, b.min), (a.target, b.target), (a.max, b.max)):
            assert (edge_a is None) == (edge_b is None)
            if edge_a is not None and edge_b is not None:
                assert edge_b - edge_a == pytest.approx(more, abs=1e-9)
        assert replace(before, gauge_pressure_bar=b) == after
