"""Whatever a server answers and whenever the forwarder dies: nothing missing, nothing extra."""

import random
from dataclasses import replace

import pytest

from logger.daemon.forward_check import compared
from logger.daemon.forwarding import KEPT_AFTER_S, Forwarder
from logger.domain.forward_status import ForwardState
from logger.forward.outbox import Outbox, Position
from logger.forward.sink import Later
from logger.store.reader import Reader
from tests.unit.forward.lossy_server import RIG, Server, Time, five_joints, lines_of, run_until_caught_up
from tests.unit.store.record_values import header, open_writer, sample


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "record.db"
    five_joints(path)
    return path


@pytest.mark.parametrize("seed", range(3))
def test_nothing_is_missing_and_nothing_is_extra_after_any_trouble(record, tmp_path, seed):
    expected = lines_of(record, tmp_path)
    draw = random.Random(seed)
    clock = Time()
    poison = frozenset(f"{expected[key]} {key[1]}" for key in draw.sample(sorted(expected), 3))
    server = Server(clock, draw, poison=poison, trouble=0.1, started_s=0.0)
    outbox = Outbox(tmp_path / "outbox.db")
    run_until_caught_up(record, outbox, server, clock, kills=0.02)
    server.trouble = 0.0
    # Whatever was answered last may still be lost: it goes again after the next start.
    run_until_caught_up(record, outbox, server, clock)
    wanted = {key: value for key, value in expected.items() if f"{value} {key[1]}" not in poison}
    assert server.points == wanted
    assert {parked.line for parked in outbox.parked("office")} == poison
    assert server.batches > 20
    outbox.close()


def test_a_link_that_keeps_breaking_gets_everything_through(record, tmp_path):
    """To a server that does not tell when it began: every failure may have been a restart of it."""
    clock = Time()
    server = Server(clock, random.Random(5), largest=10**6)
    taken, breaking = server.write, [server.lost_on_the_way, server.taken_without_answer]
    server.write = lambda lines: server.draw.choice([taken, taken, *breaking])(lines)
    outbox = Outbox(tmp_path / "outbox.db")
    run_until_caught_up(record, outbox, server, clock)
    assert server.points == lines_of(record, tmp_path)
    outbox.close()


def test_a_line_that_is_not_taken_is_put_aside_with_its_reason_and_the_rest_goes_on(record, tmp_path):
    expected = lines_of(record, tmp_path)
    key = sorted(expected)[10]
    bad = f"{expected[key]} {key[1]}"
    clock = Time()
    server = Server(clock, random.Random(1), poison=frozenset([bad]))
    outbox = Outbox(tmp_path / "outbox.db")
    run_until_caught_up(record, outbox, server, clock)
    assert [(one.line, one.reason) for one in outbox.parked("office")] == [(bad, "400 bad line")]
    assert len(server.points) == len(expected) - 1
    outbox.close()


def test_a_wrong_token_parks_nothing_and_is_said(record, tmp_path):
    clock = Time()
    server = Server(clock, random.Random(1), refuses=True)
    outbox = Outbox(tmp_path / "outbox.db")
    forwarder = Forwarder(record, outbox, "office", server, clock, 50)
    waits = []
    for _ in range(12):
        waits.append(forwarder.step())
        clock.now_s += waits[-1]
    status = outbox.status("office")
    assert (status.state, status.reason) == (ForwardState.WRONG_TOKEN, "401")
    assert status.backlog == 750
    assert outbox.parked("office") == []
    assert 20.0 < max(waits) <= 60.0
    server.refuses = False
    run_until_caught_up(record, outbox, server, clock)
    assert len(server.points) == len(lines_of(record, tmp_path))
    outbox.close()


def test_a_server_that_names_a_time_is_not_asked_before(record, tmp_path):
    clock = Time()
    server = Server(clock, random.Random(1))
    server.write = lambda _: Later(ForwardState.SERVER_BUSY, "429", after_s=17.0)
    outbox = Outbox(tmp_path / "outbox.db")
    assert Forwarder(record, outbox, "office", server, clock, 50).step() >= 17.0
    outbox.close()


def test_a_resend_is_noticed_while_running(record, tmp_path):
    clock = Time()
    server = Server(clock, random.Random(1))
    outbox = Outbox(tmp_path / "outbox.db")
    forwarder = Forwarder(record, outbox, "office", server, clock, 50)
    for _ in range(200):
        clock.now_s += forwarder.step() + 0.05
    clock.now_s += 2 * KEPT_AFTER_S
    forwarder.step()
    whole = dict(server.points)
    server.points.clear()
    outbox.put_back("office", Position(0))
    for _ in range(200):
        clock.now_s += forwarder.step() + 0.05
    assert server.points == whole
    outbox.close()


def test_what_the_open_joint_gets_later_follows(tmp_path):
    path = tmp_path / "record.db"
    writer = open_writer(path)
    writer.open_joint(replace(header(1), rig_toml=RIG))
    clock = Time()
    server = Server(clock, random.Random(1))
    outbox = Outbox(tmp_path / "outbox.db")
    forwarder = Forwarder(path, outbox, "office", server, clock, 50)
    for number in range(30):
        writer.append(header(1).uuid, sample(number))
        writer.flush()
        for _ in range(3):
            clock.now_s += forwarder.step()
    assert len(server.points) == 30
    writer.close()
    outbox.close()
    with Reader(path) as reader:
        assert len(reader.samples(header(1).uuid)) == 30


def test_points_are_compared_one_by_one():
    comparison = compared({"a": {1: 1.0, 2: 2.0}}, {"a": {2: 2.0 + 1e-12, 3: 3.0}, "b": {1: 1.0}})
    assert (comparison.expected, comparison.missing, comparison.extra, comparison.different) == (2, 1, 2, 0)
    assert not comparison.is_same
    assert compared({"a": {1: 1.0}}, {"a": {1: 1.1}}).different == 1
    texts = {"a": {1: "head"}, "b": {1: 1.0}}
    assert compared(texts, {"a": {1: "another"}, "b": {1: 1.0}}).different == 1
    assert compared(texts, {"a": {1: 0.0}, "b": {1: 1.0}}, with_texts=False).is_same
