"""Whatever a server answers and whenever the forwarder dies: nothing missing, nothing extra.

The server here answers at random, keeps what it says it takes, or loses the last of it when it crashes.
"""

import random
from dataclasses import dataclass, field, replace

import pytest

from logger.daemon.forward_check import compared
from logger.daemon.forwarding import KEPT_AFTER_S, Forwarder
from logger.forward.outbox import Outbox, Position
from logger.forward.sink import Delivered, Later, Refused, Rejected, TooLarge
from logger.store.reader import Reader
from logger.wire.judgement import to_json
from tests.unit.store.record_values import EMITTED, FINISHED, JUDGEMENT, header, open_writer, sample

RIG = """
format = 1
name = "heron-160"
cylinder_area = "6.29 cm2"
[bus.rig]
kind = "modbus-tcp"
host = "127.0.0.1"
[channel.pressure]
bus = "rig"
unit_id = 1
table = "input"
address = 0
type = "uint16"
gain = "0.1 bar"
rate = "10 Hz"
"""


BETWEEN_S = 5.0


@dataclass
class Time:
    now_s: float = 0.0

    def mono_s(self):
        return self.now_s

    def utc_text(self):
        return "2031-05-04T08:00:00.000Z"


@dataclass
class Server:
    """Points by series, field and time. `recent` is what it would lose if it crashed now."""

    clock: Time
    draw: random.Random
    largest: int = 40
    poison: frozenset[str] = frozenset()
    refuses: bool = False
    trouble: float = 0.0
    points: dict = field(default_factory=dict)
    recent: list = field(default_factory=list)
    batches: int = 0

    def write(self, lines):
        self.batches += 1
        if self.refuses:
            return Refused("401")
        if len(lines) > self.largest:
            return TooLarge()
        if self.draw.random() < self.trouble:
            return self.draw.choice([self.lost_on_the_way, self.taken_without_answer, self.crashed])(lines)
        if any(line in self.poison for line in lines):
            # As servers do: the good lines of a batch may have been taken all the same.
            self.take([line for line in lines if line not in self.poison])
            return Rejected("400 bad line")
        self.take(lines)
        return Delivered()

    def take(self, lines):
        for line in lines:
            key, _, at = line.rpartition(" ")
            self.recent.append((self.clock.now_s, (key.split(" ")[0], at)))
            self.points[key.split(" ")[0], at] = key

    def lost_on_the_way(self, _):
        return Later("timed out")

    def taken_without_answer(self, lines):
        self.take([line for line in lines if line not in self.poison])
        return Later("the connection broke", after_s=self.draw.choice([None, 3.0]))

    def crashed(self, _):
        """What was answered in the last seconds is gone."""
        for taken_s, key in self.recent:
            if self.clock.now_s - taken_s < KEPT_AFTER_S / 2:
                self.points.pop(key, None)
        self.recent.clear()
        return Later("503")

    def close(self):
        pass


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """Five joints of 150 samples, the last one open."""
    path = tmp_path_factory.mktemp("record") / "record.db"
    writer = open_writer(path)
    for index in range(1, 6):
        writer.open_joint(replace(header(index, f"A-{index}"), rig_toml=RIG))
        for number in range(150):
            writer.append(header(index).uuid, sample(number))
        writer.flush()
        if index < 5:
            writer.close_joint(header(index).uuid, FINISHED, replace(EMITTED, text=to_json(JUDGEMENT)))
    writer.close()
    return path


def run_until_caught_up(record, outbox, server, clock, *, kills=0.0, limit=4_000):
    forwarder = Forwarder(record, outbox, "office", server, clock, 50)
    for _ in range(limit):
        if server.draw.random() < kills:
            forwarder = Forwarder(record, outbox, "office", server, clock, 50)
        clock.now_s += forwarder.step() + BETWEEN_S
        status = outbox.status("office")
        if status and status.state == "caught up":
            return
    raise AssertionError("never caught up")


def lines_of(record, tmp_path):
    """Every line, by a server that takes all of it."""
    clock = Time()
    server = Server(clock, random.Random(0), largest=10**6)
    outbox = Outbox(tmp_path / "oracle.db")
    run_until_caught_up(record, outbox, server, clock)
    outbox.close()
    return server.points


@pytest.mark.parametrize("seed", range(3))
def test_nothing_is_missing_and_nothing_is_extra_after_any_trouble(record, tmp_path, seed):
    expected = lines_of(record, tmp_path)
    draw = random.Random(seed)
    clock = Time()
    poison = frozenset(f"{expected[key]} {key[1]}" for key in draw.sample(sorted(expected), 3))
    server = Server(clock, draw, poison=poison, trouble=0.1)
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
    assert (status.state, status.reason) == ("refused", "401")
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
    server.write = lambda _: Later("429", after_s=17.0)
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
