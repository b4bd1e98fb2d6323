"""The JSON Schemas that are published in `configs/schemas`, made from the models."""

import json
from pathlib import Path

from logger.wire.judgement import JudgementModel
from logger.wire.model import WireModel
from logger.wire.plan import PlanModel

PUBLISHED: dict[str, type[WireModel]] = {
    "judgement-1.json": JudgementModel,
    "plan-1.json": PlanModel,
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
