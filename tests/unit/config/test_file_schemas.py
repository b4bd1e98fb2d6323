"""The published schemas are those of the models, and the examples and procedures keep them."""

import json
import tomllib
from datetime import date
from importlib import resources
from typing import Any

import jsonschema
import pytest

from logger.config.device_file import known_devices
from logger.config.schemas import PUBLISHED_FILES, file_schema_text

CONFIGS = resources.files("configs")
PROCEDURES = sorted(
    f"procedures/{entry.name}" for entry in (CONFIGS / "procedures").iterdir() if entry.name.endswith(".toml")
)
VALID = [
    ("joint-file-1.json", "examples/joint.toml"),
    ("rig-file-1.json", "examples/rig.toml"),
    ("procedure-file-1.json", "examples/company-procedure.toml"),
    *(("procedure-file-1.json", name) for name in PROCEDURES),
    *(("device-file-1.json", f"devices/{name}.toml") for name in known_devices()),
]


def content(name: str) -> dict[str, Any]:
    tables = tomllib.loads(CONFIGS.joinpath(*name.split("/")).read_text(encoding="utf-8"))
    return json.loads(json.dumps(tables, default=date.isoformat))


@pytest.mark.parametrize("name", PUBLISHED_FILES)
def test_the_published_schema_is_that_of_the_model(name: str) -> None:
    published = (CONFIGS / "schemas" / name).read_text(encoding="utf-8")
    assert published == file_schema_text(name), "run logger.config.schemas.write_file_schemas"
    jsonschema.Draft202012Validator.check_schema(json.loads(published))


@pytest.mark.parametrize(("schema", "name"), VALID)
def test_a_shipped_file_keeps_its_schema(schema: str, name: str) -> None:
    jsonschema.validate(content(name), json.loads(file_schema_text(schema)))


@pytest.mark.parametrize(("schema", "name"), VALID[:3])
def test_an_unknown_key_breaks_the_schema(schema: str, name: str) -> None:
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**content(name), "opperator": "x"}, json.loads(file_schema_text(schema)))
