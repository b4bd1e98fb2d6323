"""A time-series server that answers at random, keeps what it says it takes, or loses the last of it."""

import random
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

from logger.daemon.forwarding import KEPT_AFTER_S, Forwarder
from logger.domain.forward_status import ForwardState
from logger.forward.outbox import Outbox
from logger.forward.sink import Delivered, Later, Look, Rejected, TooLarge
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
[channel.plate_temperature]
bus = "rig"
unit_id = 1
table = "input"
address = 1
type = "uint16"
gain = "0.1 degC"
rate = "1 Hz"
"""


BETWEEN_S = 5.0
NOW = datetime(2031, 5, 5, 8, tzinfo=UTC)
"""After the last sample of the record."""


@dataclass
class Time:
    """The server's clock is right; this machine's is `ahead_s` before it."""

    now_s: float = 0.0
    ahead_s: float = 0.0

    def mono_s(self):
        return self.now_s

    def utc(self):
        return self.server_utc() + timedelta(seconds=self.ahead_s)

    def server_utc(self):
        return NOW + timedelta(seconds=self.now_s)


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
    started_s: float | None = None
    away: bool = False

    def look(self):
        if self.away:
            return Look(trouble="refused")
        return Look(utc=self.clock.server_utc(), started_s=self.started_s)

    def write(self, lines):
        self.batches += 1
        if self.away:
            return Later(ForwardState.SERVER_DOWN, "refused")
        if self.refuses:
            return Later(ForwardState.WRONG_TOKEN, "401")
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
        return Later(ForwardState.SERVER_DOWN, "timed out")

    def taken_without_answer(self, lines):
        self.take([line for line in lines if line not in self.poison])
        return Later(ForwardState.SERVER_DOWN, "the connection broke", self.draw.choice([None, 3.0]))

    def crashed(self, _):
        self.restart()
        return Later(ForwardState.SERVER_FAULT, "503")

    def restart(self):
        """What was answered in the last seconds is gone."""
        for taken_s, key in self.recent:
            if self.clock.now_s - taken_s < KEPT_AFTER_S / 2:
                self.points.pop(key, None)
        self.recent.clear()
        if self.started_s is not None:
            self.started_s = self.clock.server_utc().timestamp()

    def close(self):
        pass


def five_joints(path):
    """A record of five joints of 150 samples, the last one open."""
    writer = open_writer(path)
    for index in range(1, 6):
        writer.open_joint(replace(header(index, f"A-{index}"), rig_toml=RIG))
        for number in range(150):
            writer.append(header(index).uuid, sample(number))
        writer.flush()
        if index < 5:
            writer.close_joint(header(index).uuid, FINISHED, replace(EMITTED, text=to_json(JUDGEMENT)))
    writer.close()


def run_until_caught_up(record, outbox, server, clock, *, kills=0.0, limit=4_000):
    forwarder = Forwarder(record, outbox, "office", server, clock, 50)
    for _ in range(limit):
        if server.draw.random() < kills:
            forwarder = Forwarder(record, outbox, "office", server, clock, 50)
        clock.now_s += forwarder.step() + BETWEEN_S
        if forwarder.is_caught_up:
            return
    raise AssertionError("never caught up")


def run_on(forwarder, clock, span_s):
    until_s = clock.now_s + span_s
    while clock.now_s < until_s:
        clock.now_s += forwarder.step() + 0.1


def lines_of(record, tmp_path):
    """Every line, by a server that takes all of it."""
    clock = Time()
    server = Server(clock, random.Random(0), largest=10**6)
    outbox = Outbox(tmp_path / "oracle.db")
    run_until_caught_up(record, outbox, server, clock)
    outbox.close()
    return server.points
