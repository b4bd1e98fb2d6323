import logging

import pytest

from logger.acquire.health import ChannelHealth, ChannelState
from logger.domain.channel import Quantity


def test_one_warning_at_the_loss_and_one_info_at_the_return(caplog):
    caplog.set_level(logging.DEBUG)
    health = ChannelHealth(Quantity.PRESSURE, "field")
    first = health.read(1_000)
    assert (first.state, first.missed_polls) == (ChannelState.PRESENT, 0)
    assert [health.read(t_ms) for t_ms in (1_100, 1_200)] == [None, None]
    lost = health.failed(1_300, "no answer")
    assert (lost.state, lost.t_ms, lost.reason) == (ChannelState.LOST, 1_300, "no answer")
    for _ in range(48):
        assert health.failed(1_400, "no answer") is None
    health.missed(7)
    back = health.read(9_000)
    assert (back.state, back.t_ms, back.missed_polls) == (ChannelState.PRESENT, 9_000, 56)
    assert [(record.levelname, record.getMessage()) for record in caplog.records] == [
        ("WARNING", "pressure lost: no answer"),
        ("INFO", "pressure back after 56 missed polls"),
    ]


def test_missed_slots_between_good_samples_are_no_edge(caplog):
    health = ChannelHealth(Quantity.CARRIAGE, "field")
    health.read(0)
    health.missed(3)
    assert health.read(100) is None
    assert health.missed_polls == 0
    assert caplog.records == []


def test_never_there_is_a_loss_too():
    health = ChannelHealth(Quantity.CARRIAGE, "field")
    assert health.failed(5, "cannot open").state is ChannelState.LOST


TIMEOUT = "field unit 1 input 0: no answer within 0.5 s"
REFUSED = "field (/dev/rig): cannot open: [Errno 2] No such file or directory: '/dev/rig'"


def told_at(health, reasons):
    """Fail for these reasons one after the other; the numbers of those that were told."""
    return [n for n, reason in enumerate(reasons) if health.failed(n, reason) is not None]


def test_a_reason_that_becomes_another_is_told_once_when_it_stands(caplog):
    health = ChannelHealth(Quantity.PRESSURE, "field")
    assert told_at(health, [TIMEOUT] * 20) == [0]
    assert health.failed(100, REFUSED) is None, "one poll may fail for any reason"
    changed = health.failed(101, REFUSED)
    assert (changed.state, changed.is_new_reason, changed.reason) == (ChannelState.LOST, True, REFUSED)
    assert changed.missed_polls == 22
    assert told_at(health, [REFUSED] * 200) == []
    assert told_at(health, [TIMEOUT] * 50) == [9], "told before: it has to stand for longer"
    assert [record.getMessage() for record in caplog.records] == [
        f"pressure lost: {TIMEOUT}",
        f"pressure still lost, now: {REFUSED}",
        f"pressure still lost, now: {TIMEOUT}",
    ]
    assert {record.levelname for record in caplog.records} == {"WARNING"}
    assert health.read(900).is_new_reason is False
    assert health.failed(901, REFUSED).is_new_reason is False, "a new loss"


@pytest.mark.parametrize(
    ("reasons", "lines"),
    [
        ([TIMEOUT, REFUSED], 1),
        ([TIMEOUT, TIMEOUT, REFUSED, REFUSED], 2),
        ([f"field: the answer is damaged ({n} bytes)" for n in range(50)], 1),
        ([f"field: the line 'P1=\\x{n}' does not match the pattern" for n in range(50)], 1),
        ([f"field: unreadable line b'\\x{n}': byte 0x{n} in position {n}" for n in range(10, 50)], 1),
    ],
    ids=["in turn", "in pairs", "length", "line", "bytes"],
)
def test_a_line_full_of_noise_fills_no_log(reasons, lines):
    health = ChannelHealth(Quantity.PRESSURE, "field")
    assert len(told_at(health, reasons * 50)) == lines
