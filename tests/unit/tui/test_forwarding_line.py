"""One line tells where the curves go; it is no trouble of the rig."""

import pytest

from logger.domain.forward_status import ForwardState
from logger.wire.live import ForwardingMessage
from tests.unit.tui.fake_link import state
from tui.forwarding import forwarding_lines
from tui.model import Picture
from tui.words import health_lines, troubles

DAY_S = 86_400.0


def told(code, backlog=0, oldest_age_s=None, parked=0):
    return ForwardingMessage(
        target="office", state=code, reason="x", backlog=backlog, oldest_age_s=oldest_age_s, parked=parked
    )


def picture_with(*messages):
    picture = Picture()
    picture.take_state(state(forwarding=messages), 0.0)
    return picture


@pytest.mark.parametrize(
    ("message", "line"),
    [
        (told("caught_up"), "Curves to office: up to date"),
        (told("sending", 12, 2.0), "Curves to office: up to date"),
        (
            told("sending", 2_699_000, 42 * DAY_S),
            "Curves to office: sending, 2699000 wait, oldest 42 days",
        ),
        (
            told("server_down", 9000, 3 * 3600.0),
            "Curves to office: the server does not answer, 9000 wait, oldest 3 h",
        ),
        (
            told("wrong_token", 10, 240.0),
            "Curves to office: the server refuses the token, 10 wait, oldest 4 min",
        ),
        (told("disk_full", 1), "Curves to office: the server's disk is full, 1 wait"),
        (told("clock_wrong"), "Curves to office: this machine's clock is wrong"),
        (told("caught_up", parked=3), "Curves to office: up to date, 3 lines put aside"),
        (told("of_a_later_version"), "Curves to office: of a later version"),
    ],
)
def test_state_backlog_and_its_age_stand_on_one_line(message, line):
    assert forwarding_lines(picture_with(message)) == [line]


def test_every_state_has_its_words():
    for code in ForwardState:
        assert "_" not in forwarding_lines(picture_with(told(code)))[0]


def test_it_follows_the_health_and_is_no_trouble():
    picture = picture_with(told("server_down"), told("caught_up"))
    assert troubles(picture, 0.0) == []
    assert len(health_lines(picture, 0.0)) == 3
    assert forwarding_lines(Picture()) == []
    assert len(health_lines(picture_with(), 0.0)) == 1
