"""The published JSON Schemas are those of the models and fit what is emitted."""

import json
from importlib.resources import files

import jsonschema
import pytest

from logger.wire.judgement import to_json
from logger.wire.model import text_of
from logger.wire.plan import plan_to_json
from logger.wire.schemas import PUBLISHED, schema_text, write_schemas
from tests.unit.wire.documents import JUDGEMENT, PLAN
from tests.unit.wire.messages import MESSAGES

TEXT_OF = {
    "judgement-1.json": to_json(JUDGEMENT),
    "plan-1.json": plan_to_json(PLAN),
    **{name: text_of(message) for name, message in MESSAGES.items()},
}


def published(file_name):
    return files("configs").joinpath("schemas", file_name).read_text(encoding="utf-8")


@pytest.mark.parametrize("file_name", PUBLISHED)
def test_the_published_schema_is_that_of_the_model(file_name, tmp_path):
    write_schemas(tmp_path)
    assert published(file_name) == schema_text(file_name)
    assert (tmp_path / file_name).read_text(encoding="utf-8") == schema_text(file_name)


@pytest.mark.parametrize("file_name", PUBLISHED)
def test_a_document_validates_and_a_wrong_one_does_not(file_name):
    schema = json.loads(published(file_name))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    document = json.loads(TEXT_OF[file_name])
    validator.validate(document)
    for wrong in (
        document | {"schema": "beadwatch.other/1"},
        document | {"colour": "red"},
        {key: value for key, value in document.items() if key != "schema"},
    ):
        assert not validator.is_valid(wrong)


def test_a_judgement_with_a_phase_missing_does_not_validate():
    validator = jsonschema.Draft202012Validator(json.loads(published("judgement-1.json")))
    document = json.loads(to_json(JUDGEMENT))
    document["phases"].pop()
    assert not validator.is_valid(document)
