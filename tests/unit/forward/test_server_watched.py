"""The server is looked at: begun anew, away, of another time; and how forwarding stands is told."""

import random
from datetime import timedelta

import pytest

from logger.daemon.forwarding import AHEAD_MS, KEPT_AFTER_S, Forwarder
from logger.domain.forward_status import SILENT_AFTER_S, ForwardState, as_seen
from logger.forward.outbox import Outbox, Position, statuses_of
from logger.forward.sink import Look
from tests.unit.forward.lossy_server import (
    NOW,
    Server,
    Time,
    five_joints,
    lines_of,
    run_on,
    run_until_caught_up,
)
from tests.unit.store.record_values import header

ALL = Position(5, 150)


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "record.db"
    five_joints(path)
    return path


@pytest.fixture
def outbox(tmp_path):
    opened = Outbox(tmp_path / "outbox.db")
    yield opened
    opened.close()


def test_a_server_that_restarts_unnoticed_gets_again_what_it_lost(record, outbox, tmp_path):
    """No answer is ever bad here: only its start time tells."""
    expected = lines_of(record, tmp_path)
    clock = Time()
    server = Server(clock, random.Random(3), largest=10**6, started_s=NOW.timestamp() - 1e5)
    forwarder = Forwarder(record, outbox, "office", server, clock, 50)
    run_on(forwarder, clock, 0.5)
    assert 0 < len(server.points) < len(expected)
    server.restart()
    assert server.points == {}
    run_on(forwarder, clock, 3 * KEPT_AFTER_S)
    assert server.points == expected
    assert outbox.kept("office") == ALL


def test_a_server_away_while_nothing_waits_gets_its_last_minute_again(record, outbox, tmp_path):
    """It may have lost what it answered before it went away, and nothing else would tell."""
    expected = lines_of(record, tmp_path)
    clock = Time()
    server = Server(clock, random.Random(3), largest=10**6)
    forwarder = Forwarder(record, outbox, "office", server, clock, 1000)
    run_on(forwarder, clock, 8.0)
    assert forwarder.is_caught_up
    server.restart()
    server.away = True
    run_on(forwarder, clock, 30.0)
    assert outbox.status("office").state is ForwardState.SERVER_DOWN
    server.away = False
    run_on(forwarder, clock, 4 * KEPT_AFTER_S)
    assert server.points == expected


def test_a_server_that_is_not_there_at_the_start_is_said(record, outbox):
    clock = Time()
    server = Server(clock, random.Random(3), away=True)
    Forwarder(record, outbox, "office", server, clock, 50).step()
    assert outbox.status("office").state is ForwardState.SERVER_DOWN
    assert outbox.status("office").backlog == 750


def test_several_servers_behind_one_address_do_not_hold_up_the_cursor(record, outbox):
    clock = Time()
    server = Server(clock, random.Random(3), largest=10**6)
    starts = [NOW.timestamp() - 5e4, NOW.timestamp() - 9e4]
    server.look = lambda: Look(started_s=server.draw.choice(starts))
    run_on(Forwarder(record, outbox, "office", server, clock, 50), clock, 4 * KEPT_AFTER_S)
    assert outbox.kept("office") == ALL


@pytest.mark.parametrize(("ahead_s", "side"), [(3600.0, "ahead of"), (-86_400.0, "behind")])
def test_a_wrong_clock_is_said_while_lines_still_go_out(record, outbox, tmp_path, ahead_s, side):
    clock = Time(ahead_s=ahead_s)
    server = Server(clock, random.Random(1))
    run_until_caught_up(record, outbox, server, clock)
    status = outbox.status("office")
    assert status.state is ForwardState.CLOCK_WRONG
    assert f"{side} the server's clock" in status.reason
    assert len(server.points) == len(lines_of(record, tmp_path))


def test_lines_of_a_clock_days_ahead_wait_until_it_is_set_and_are_then_put_aside(record, outbox, tmp_path):
    """Some servers answer 204 to such lines and drop them."""
    days_s = 5 * AHEAD_MS / 1000
    clock = Time(now_s=-days_s, ahead_s=days_s)
    server = Server(clock, random.Random(1), largest=10**6)
    forwarder = Forwarder(record, outbox, "office", server, clock, 10_000)
    run_on(forwarder, clock, 30.0)
    assert outbox.status("office").state is ForwardState.CLOCK_WRONG
    assert (server.batches, outbox.parked("office")) == (0, [])
    clock.ahead_s = 0.0
    run_on(forwarder, clock, 200.0)
    assert server.points == {}
    parked = outbox.parked("office")
    everything = {f"{text} {at}" for (_, at), text in lines_of(record, tmp_path).items()}
    assert {one.line for one in parked} == everything
    assert "ahead of the server's clock" in parked[0].reason
    assert outbox.status("office").parked == len(parked)


def test_status_tells_the_progress_and_that_nothing_is_told_any_more(record, tmp_path):
    clock = Time()
    server = Server(clock, random.Random(1))
    path = tmp_path / "outbox.db"
    assert statuses_of(path) == []
    outbox = Outbox(path)
    forwarder = Forwarder(record, outbox, "office", server, clock, 100)
    forwarder.step()
    (first,) = statuses_of(path)
    assert (first.state, first.backlog, first.sent) == (ForwardState.SENDING, 650, 100)
    assert first.oldest_utc
    clock.now_s += 10.0
    forwarder.tell_again()
    (again,) = statuses_of(path)
    assert again.utc > first.utc
    assert again.since_utc == first.since_utc
    assert as_seen(again, clock.utc()) == again
    later = clock.utc() + timedelta(seconds=SILENT_AFTER_S + 1)
    assert as_seen(again, later).state is ForwardState.SILENT
    run_until_caught_up(record, outbox, server, clock)
    (last,) = statuses_of(path)
    assert (last.state, last.backlog, last.oldest_utc) == (ForwardState.CAUGHT_UP, 0, "")
    outbox.close()


def test_a_range_is_sent_and_nothing_behind_it(record, outbox):
    clock = Time()
    server = Server(clock, random.Random(1))
    outbox.put_back("office", Position(2))
    forwarder = Forwarder(record, outbox, "office", server, clock, 50, last_joint=3)
    while not forwarder.is_caught_up:
        forwarder.step()
    sent = {key.split("joint=")[1].split(",")[0] for key, _ in server.points}
    assert sent == {header(number).uuid for number in (2, 3)}
