"""The record, read for viewers: each question opens it read-only, on a thread of its own."""

import asyncio
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from logger.daemon.joint_files import setting_of
from logger.daemon.particulars import particulars_of
from logger.daemon.statements import governing_plan
from logger.daemon.thinning import thinned
from logger.daemon.view import samples_message
from logger.domain.joint_query import JointQuery
from logger.domain.record import JointRecord, RecordEvent, Statement
from logger.domain.scale import samples_of
from logger.errors import InputError
from logger.store.reader import Reader
from logger.store.search import find_joints
from logger.wire.desk import StatementModel
from logger.wire.entry import NextAttempt
from logger.wire.history import (
    CurveMessage,
    HeadMessage,
    JointDetail,
    JointList,
    JointSummary,
    RecordedEvent,
)
from logger.wire.plan import plan_model

T = TypeVar("T")

LARGEST_PAGE = 500
_DOCUMENTS = ("plan_json", "judgement_json")
"""Whole documents inside a statement, too long for a list of what was said."""


class Archive:
    """Raises InputError for a joint that is not in the record, StoreError when it cannot be read."""

    def __init__(self, store: Path) -> None:
        self._store = store

    async def records(self, query: JointQuery) -> list[JointRecord]:
        return await asyncio.to_thread(find_joints, self._store, query)

    async def record(self, joint_uuid: str) -> JointRecord:
        return await self._read(lambda reader: _record(reader, joint_uuid))

    async def statements(self, joint_uuid: str) -> list[Statement]:
        return await self._read(lambda reader: reader.statements_of(joint_uuid))

    async def next_attempt(self, number: str, project: str) -> NextAttempt | None:
        """Say what a joint of this number would be, None where there is no number yet."""
        if not number:
            return None
        found = await self._read(lambda reader: _latest(reader, number, project))
        return NextAttempt(
            attempt=found.attempt + 1 if found else 1,
            previous_uuid=found.header.uuid if found else None,
            previous_verdict=found.verdict if found else None,
            previous_opened_utc=found.header.opened.utc if found else None,
        )

    async def joints(self, query: JointQuery) -> JointList:
        limit = query.limit or LARGEST_PAGE
        found = await self.records(replace(query, limit=limit + 1))
        return JointList(
            joints=tuple(_summary(record) for record in found[:limit]),
            is_more=len(found) > limit,
        )

    async def joint(self, joint_uuid: str) -> JointDetail:
        return await self._read(lambda reader: _detail(reader, joint_uuid))

    async def curve(self, joint_uuid: str, points: int | None) -> CurveMessage:
        return await self._read(lambda reader: _curve(reader, joint_uuid, points))

    async def sealed(self, joint_uuid: str) -> str:
        return await self._read(lambda reader: reader.sealed_joint(_record(reader, joint_uuid).header.uuid))

    async def head(self) -> HeadMessage:
        head = await self._read(lambda reader: reader.chain_head())
        return HeadMessage(head=None if head is None else str(head), utc=None if head is None else head.utc)

    async def judgement(self, joint_uuid: str) -> str:
        return (await self.record(joint_uuid)).judgement_text or "null\n"

    async def _read(self, ask: Callable[[Reader], T]) -> T:
        def read() -> T:
            with Reader(self._store) as reader:
                return ask(reader)

        return await asyncio.to_thread(read)


def _latest(reader: Reader, number: str, project: str) -> JointRecord | None:
    try:
        return reader.joint(number, project=project)
    except InputError:
        return None


def _record(reader: Reader, joint_uuid: str) -> JointRecord:
    record = reader.joint(joint_uuid)
    if record.header.uuid != joint_uuid:
        raise InputError(f"{joint_uuid} is a number, not the id of a joint; its id is {record.header.uuid}")
    return record


def _detail(reader: Reader, joint_uuid: str) -> JointDetail:
    record = _record(reader, joint_uuid)
    header, claim = record.header, record.claim
    statements = reader.statements_of(joint_uuid)
    plan = governing_plan(header.plan_json, statements)
    return JointDetail(
        summary=_summary(record),
        ended_reason=record.end.reason if record.end else "",
        claimed_by=claim.claimed_by if claim else None,
        claim_reason=claim.reason if claim else None,
        plan=None if plan is None else plan_model(plan),
        rig=json.loads(header.rig_json)["rig"],
        events=tuple(_event(event) for event in reader.events(joint_uuid)),
        statements=tuple(statement_model(said) for said in statements),
    )


def _curve(reader: Reader, joint_uuid: str, points: int | None) -> CurveMessage:
    record = _record(reader, joint_uuid)
    rig = setting_of(record).rig
    samples = samples_of(reader.samples(joint_uuid), rig) if rig else []
    kept = samples if points is None else thinned(samples, points)
    return CurveMessage(
        is_thinned=len(kept) < len(samples),
        sample_count=len(samples),
        samples=samples_message(joint_uuid, kept, first_seq=1),
    )


def _summary(record: JointRecord) -> JointSummary:
    header, more = record.header, particulars_of(record)
    return JointSummary(
        uuid=header.uuid,
        number=record.number,
        project=record.project,
        operator=header.operator,
        operator_badge=more.operator_badge,
        place=more.place,
        coordinates_deg=more.coordinates_deg,
        rig=more.rig,
        software=more.software,
        overdue_calibrations=more.overdue,
        attempt=record.attempt,
        previous_uuid=record.previous_uuid,
        procedure=header.procedure,
        opened_utc=header.opened.utc,
        utc_verified=header.opened.utc_verified,
        ended=record.end.how if record.end else None,
        verdict=record.verdict,
        origin=header.origin,
        time_scale=header.time_scale,
    )


def _event(event: RecordEvent) -> RecordedEvent:
    return RecordedEvent(
        kind=event.kind,
        code=event.code,
        at_s=None if event.t_ms is None else event.t_ms / 1000,
        parameters=dict(event.parameters),
    )


def statement_model(said: Statement) -> StatementModel:
    return StatementModel(
        seq=said.seq,
        kind=said.kind,
        author=said.author,
        reason=said.reason,
        at_utc=said.at.utc,
        at_s=said.at_s,
        body={key: value for key, value in said.body.items() if key not in _DOCUMENTS},
    )
