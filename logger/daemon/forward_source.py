"""What is to be sent, line by line, in the order of the record; the record is only read."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from logger.daemon.joint_files import recorded_rig
from logger.domain.record import JointRecord
from logger.domain.scale import Scaler, samples_of
from logger.forward.lines import SAMPLE, Point, Series, joint_points, line_of, sample_point, series_of
from logger.forward.outbox import Position
from logger.store.outgoing import journal_from, next_joint
from logger.store.reader import Reader
from logger.wire.judgement import judgement_from_json


@dataclass(frozen=True, slots=True)
class Line:
    """A line, its time, and where the record has been sent to once it and all before it are through."""

    text: str
    at_ms: int
    through: Position


@dataclass(slots=True)
class _Follower:
    """An open joint as far as it was read: its polls are scaled once, however often it is looked at.

    `given` is the number of the poll whose line was given last.
    """

    uuid: str
    scaler: Scaler
    series: Series
    given: int
    read: int = 0
    journal_seq: int = -1


class LineSource:
    """The lines of one record, up to joint `last` where that is given.

    Raises StoreError when the record cannot be read.
    """

    def __init__(self, store: Path, last: int | None = None) -> None:
        self._store = store
        self._last = last
        self._follower: _Follower | None = None

    def after(self, sent: Position) -> tuple[list[Line], Position]:
        """Return the lines of the next joint that has any, an open one as far as it goes.

        Also returns the position they start from: joints with nothing left are passed over.
        """
        while True:
            found = next_joint(self._store, sent.joint_id)
            if found is None or (self._last is not None and found[0] > self._last):
                return [], sent
            joint_id, record = found
            done = sent.samples if joint_id == sent.joint_id else 0
            if record.end is None:
                return list(self._of_open(joint_id, record, done)), sent
            lines = list(self._of_ended(joint_id, record, done))
            if lines:
                return lines, sent
            sent = Position(joint_id + 1)

    def _of_open(self, joint_id: int, record: JointRecord, done: int) -> Iterator[Line]:
        uuid = record.header.uuid
        follower = self._follower
        if follower is None or follower.uuid != uuid or follower.given != done:
            rig = recorded_rig(record)
            follower = self._follower = _Follower(uuid, Scaler(rig), series_of(record, rig.name), done)
        raws, follower.journal_seq = journal_from(self._store, uuid, follower.journal_seq)
        for raw in raws:
            follower.read += 1
            point = sample_point(follower.series, follower.scaler.read(raw))
            if point is not None and follower.read > done:
                follower.given = follower.read
                text = line_of(follower.series.tags, point)
                yield Line(text, point.at_ms, Position(joint_id, follower.read))

    def _of_ended(self, joint_id: int, record: JointRecord, done: int) -> Iterator[Line]:
        series, points = points_of_joint(self._store, record)
        tags = series.tags
        for number, point in points[:-1]:
            if number > done or point.measurement != SAMPLE:
                yield Line(line_of(tags, point), point.at_ms, Position(joint_id, number))
        last = points[-1][1]
        yield Line(line_of(tags, last), last.at_ms, Position(joint_id + 1))


def points_of_joint(store: Path, record: JointRecord) -> tuple[Series, list[tuple[int, Point]]]:
    """Return the series and points of a joint, each with the number of polls through with it.

    Samples come first, then phases and findings, the joint itself last.
    """
    uuid = record.header.uuid
    with Reader(store) as reader:
        raws = reader.samples(uuid)
        seal = reader.seal_of(uuid)
    rig = recorded_rig(record)
    series = series_of(record, rig.name)
    points: list[tuple[int, Point]] = []
    for number, sample in enumerate(samples_of(raws, rig), 1):
        point = sample_point(series, sample)
        if point is not None:
            points.append((number, point))
    judgement = None if record.judgement_text is None else judgement_from_json(record.judgement_text)
    head = "" if seal.end is None else str(seal.end)
    points += [(len(raws), point) for point in joint_points(series, record, judgement, head)]
    return series, points
