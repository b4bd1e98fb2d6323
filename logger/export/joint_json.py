"""One joint as one JSON document: the record's texts as stored, samples raw and scaled."""

import json
from typing import Any

from logger.domain.dossier import Dossier
from logger.domain.record import Statement
from logger.export.tables import JOINT_HEADINGS, SAMPLE_HEADINGS, joint_row, sample_rows

SCHEMA = "beadwatch.export/1"


def joint_json(dossier: Dossier) -> bytes:
    """UTF-8 with a newline at its end; the same joint gives the same bytes, floats at full precision.

    `samples.raw` has one row for each poll, [t_ms, half_width_ms, {quantity: raw integer}], and
    `samples.scaled` the same polls under `samples.headings`.
    """
    header = dossier.record.header
    document = {
        "schema": SCHEMA,
        "joint": dict(zip(JOINT_HEADINGS, joint_row(dossier), strict=True)),
        "rig": json.loads(header.rig_json),
        "rig_toml": header.rig_toml,
        "joint_toml": header.joint_toml,
        "plan": _parsed(header.plan_json),
        "judgement": _parsed(dossier.record.judgement_text),
        "statements": [_statement(said) for said in dossier.statements],
        "events": [
            {"kind": e.kind, "code": e.code, "t_ms": e.t_ms, "parameters": dict(e.parameters)}
            for e in dossier.events
        ],
        "samples": {
            "headings": SAMPLE_HEADINGS,
            "scaled": list(sample_rows(dossier)),
            "raw": [
                [raw.t_ms, raw.half_width_ms, {reading.quantity: reading.raw for reading in raw.readings}]
                for raw in dossier.raws
            ],
        },
    }
    return (json.dumps(document, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _parsed(text: str | None) -> Any:
    return None if text is None else json.loads(text)


def _statement(said: Statement) -> dict[str, object]:
    return {
        "seq": said.seq, "kind": said.kind, "author": said.author, "reason": said.reason,
        "utc": said.at.utc, "at_s": said.at_s, "body": dict(said.body),
    }  # fmt: skip
