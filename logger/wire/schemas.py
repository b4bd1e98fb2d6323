"""The JSON Schemas that are published in `configs/schemas`, made from the models."""

import json
from pathlib import Path

from logger.wire.desk import ChecklistMessage
from logger.wire.entry import ChoicesMessage, PlanAnswer
from logger.wire.history import CurveMessage, JointDetail, JointList
from logger.wire.judgement import JudgementModel
from logger.wire.live import StateMessage
from logger.wire.model import WireModel
from logger.wire.plan import PlanModel
from logger.wire.stream import HelloMessage, SnapshotMessage, UpdateMessage

PUBLISHED: dict[str, type[WireModel]] = {
    "judgement-1.json": JudgementModel,
    "plan-1.json": PlanModel,
    "hello-1.json": HelloMessage,
    "state-1.json": StateMessage,
    "snapshot-1.json": SnapshotMessage,
    "update-1.json": UpdateMessage,
    "plan-answer-1.json": PlanAnswer,
    "choices-1.json": ChoicesMessage,
    "checklist-1.json": ChecklistMessage,
    "joints-1.json": JointList,
    "joint-1.json": JointDetail,
    "curve-1.json": CurveMessage,
}
"""Model by file name; the number is that of the document's `schema`."""


def schema_text(file_name: str) -> str:
    """Return the JSON Schema (draft 2020-12) that is published under this name."""
    schema = PUBLISHED[file_name].model_json_schema(by_alias=True, mode="serialization")
    dialect = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:beadwatch:schema:{file_name.removesuffix('.json')}",
    }
    return json.dumps(dialect | schema, indent=2, ensure_ascii=False) + "\n"


def write_schemas(folder: Path) -> None:
    """Write all published schemas, after a change of the models."""
    for file_name in PUBLISHED:
        (folder / file_name).write_text(schema_text(file_name), encoding="utf-8")
