"""JSON Schemas of the files that people write, published in `configs/schemas`; made from the models."""

import json
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from logger.config.device_file import DeviceFile
from logger.config.joint_file import JointFile
from logger.config.pipe_table import PipeTable, TwoEndsTable
from logger.config.procedure_tables import ProcedureFile
from logger.config.rig_tables import RigFile


class JointContract(JointFile):
    """joint.toml: a single `[pipe]`, or `[pipe.a]` and `[pipe.b]`."""

    pipe: PipeTable | TwoEndsTable  # type: ignore[assignment]


PUBLISHED_FILES: dict[str, type[BaseModel]] = {
    "joint-file-1.json": JointContract,
    "rig-file-1.json": RigFile,
    "device-file-1.json": DeviceFile,
    "procedure-file-1.json": ProcedureFile,
}
"""Model by file name; the number is the file's `format`."""


def file_schema_text(file_name: str) -> str:
    """Return the JSON Schema (draft 2020-12) that is published under this name."""
    schema: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:beadwatch:schema:{file_name.removesuffix('.json')}",
        **PUBLISHED_FILES[file_name].model_json_schema(),
    }
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def write_file_schemas(folder: Path) -> None:
    """Write all published schemas of files, after a change of the models."""
    for file_name in PUBLISHED_FILES:
        (folder / file_name).write_text(file_schema_text(file_name), encoding="utf-8")
