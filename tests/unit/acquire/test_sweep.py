"""The search on a line: who is found, what disturbs, how long it may take."""

import pytest

from logger.acquire.rtu_frame import FUNCTION_OF
from logger.acquire.sweep import sweep_rtu, sweep_tcp
from logger.domain.bus import ModbusTcpBus, Parity, Table
from logger.domain.bus_scan import ScanPlan, question_s
from logger.domain.serial_ports import LineSetting
from logger.errors import DeviceError
from simulators.misbehave import Behaviour, Misbehaving
from tests.unit.acquire.rig_builders import RealClock

E19200, N9600 = LineSetting(19200, Parity.EVEN, 1), LineSetting(9600, Parity.NONE, 2)


@pytest.fixture
async def device():
    made = []

    def _device(then: Behaviour, script=(), **only) -> Misbehaving:
        made.append(Misbehaving([1, 2], list(script), then=then, unit_id=3, **only))
        return made[-1]

    yield _device
    for one in made:
        await one.close()


def plan_of(*settings: LineSetting, timeout_s: float = 0.25) -> ScanPlan:
    return ScanPlan(settings=settings, unit_ids=(2, 3, 4), timeout_s=timeout_s)


def nothing(*_: object) -> None:
    return


async def test_a_device_is_found_and_the_search_stops_behind_its_setting(device) -> None:
    one = device(Behaviour())
    asked: list[int] = []
    result = await sweep_rtu(
        one.serve_pty(), plan_of(E19200, N9600), lambda question: asked.append(question.number)
    )
    assert [(found.unit_id, found.setting, found.exception) for found in result.found] == [(3, E19200, None)]
    assert asked == [0, 1, 2, 6, 8, 12, 14, 18, 20], "its neighbours are asked for the other tables too"
    assert one.function_codes == [3, 3, 3, 4, 4, 1, 1, 2, 2]
    assert {request[0] for request in one.requests[3:]} == {2, 4}


@pytest.mark.parametrize("is_silent", [True, False])
@pytest.mark.parametrize(("function", "table"), [(f, t) for t, f in FUNCTION_OF.items()])
async def test_a_device_with_one_table_is_found(device, function: int, table: Table, is_silent: bool) -> None:
    """Silent to the other functions, as some are, or refusing them, as the protocol asks."""
    one = device(Behaviour(), functions=(function,), is_silent_to_others=is_silent)
    plan = ScanPlan(settings=(N9600, E19200), unit_ids=(3,), timeout_s=0.5)
    result = await sweep_rtu(one.serve_pty(), plan, nothing)
    assert [(found.unit_id, found.table, found.exception) for found in result.found] == [(3, table, None)]
    assert len(one.requests) <= plan.questions
    assert set(one.function_codes) <= {1, 2, 3, 4}


async def test_a_tcp_device_with_one_table_is_found(device) -> None:
    one = device(Behaviour(), functions=(2,), is_silent_to_others=True)
    bus = ModbusTcpBus(name="scan", host="127.0.0.1", port=await one.serve_tcp(), timeout_s=0.2)
    result = await sweep_tcp(bus, ScanPlan(unit_ids=(3,), timeout_s=0.2), RealClock(), nothing)
    assert [(found.unit_id, found.table) for found in result.found] == [(3, Table.DISCRETE)]


async def test_every_setting_is_tried_where_it_is_asked_for(device) -> None:
    one = device(Behaviour())
    plan = plan_of(E19200, N9600)
    result = await sweep_rtu(one.serve_pty(), plan, nothing, every_setting=True)
    assert [found.setting for found in result.found] == [E19200, N9600]


async def test_a_refusal_is_an_answer_unless_it_is_a_gateways(device) -> None:
    one = device(Behaviour(exception_code=2))
    result = await sweep_rtu(one.serve_pty(), plan_of(E19200), nothing)
    assert [(found.unit_id, found.exception) for found in result.found] == [(3, 2)]
    gateway = device(Behaviour(exception_code=11))
    assert (await sweep_rtu(gateway.serve_pty(), plan_of(E19200), nothing)).found == ()


async def test_a_late_answer_is_credited_to_the_unit_that_sent_it(device) -> None:
    one = device(Behaviour(delay_s=0.3))
    result = await sweep_rtu(one.serve_pty(), plan_of(E19200, timeout_s=0.2), nothing)
    assert [found.unit_id for found in result.found] == [3]
    assert result.found[0].latency_s > 0


async def test_bytes_that_are_nobodys_answer_are_told(device) -> None:
    one = device(Behaviour(garbage=b"\xfe\xfd\xfc\x00\x17"))
    result = await sweep_rtu(one.serve_pty(), plan_of(E19200), nothing)
    assert (result.found, result.disturbed) == ((), (E19200,))


async def test_a_port_that_is_not_there() -> None:
    with pytest.raises(DeviceError, match="cannot open"):
        await sweep_rtu("/dev/not-there", plan_of(E19200), nothing)


async def test_behind_a_tcp_address(device) -> None:
    one = device(Behaviour())
    bus = ModbusTcpBus(name="scan", host="127.0.0.1", port=await one.serve_tcp(), timeout_s=0.2)
    result = await sweep_tcp(
        bus, ScanPlan(unit_ids=(2, 3, 4), tables=(Table.HOLDING,), timeout_s=0.2), RealClock(), nothing
    )
    assert [found.unit_id for found in result.found] == [3]


def test_the_bound_is_the_sum_of_all_waits() -> None:
    """8 characters of 11 bits at 19200 Bd take 4.58 ms; at 9600 Bd 8N2 9.17 ms."""
    assert question_s(E19200) == pytest.approx(0.00458, abs=1e-5)
    assert question_s(N9600) == pytest.approx(0.00917, abs=1e-5)
    plan = plan_of(E19200, N9600)
    assert plan.questions == 4 * 6
    assert plan.bound_s > 4 * (6 * 0.25 + 3 * (0.00458 + 0.00917))
    assert plan.bound_s < 4 * (6 * 0.4 + 1.1)
