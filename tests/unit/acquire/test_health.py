import logging

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
        assert health.failed(1_400, "still none") is None
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
