"""Messages of the local interface: read back as they were sent, told apart by their schema."""

import json

import pytest
from pydantic import TypeAdapter, ValidationError

from logger.wire.desk import MarkCommand, StartBody
from logger.wire.entry import JointEntry
from logger.wire.live import StartCommand
from logger.wire.model import document_of, text_of
from logger.wire.stream import LiveMessage
from tests.unit.wire.messages import MESSAGES

ON_THE_LINK = ("hello-1.json", "snapshot-1.json", "update-1.json")


@pytest.mark.parametrize("name", MESSAGES)
def test_a_message_is_read_back_as_it_was_sent(name):
    message = MESSAGES[name]
    assert document_of(type(message), text_of(message)) == message
    assert (
        json.loads(text_of(message))["schema"]
        == f"beadwatch.{name.removesuffix('.json').replace('-1', '/1')}"
    )


@pytest.mark.parametrize("name", ON_THE_LINK)
def test_on_the_live_link_the_schema_tells_which_it_is(name):
    message = MESSAGES[name]
    assert TypeAdapter(LiveMessage).validate_json(text_of(message)) == message


def test_another_message_on_the_live_link_is_refused():
    with pytest.raises(ValidationError, match="does not match any of the expected tags"):
        TypeAdapter(LiveMessage).validate_json(text_of(MESSAGES["curve-1.json"]))


def test_a_joint_is_opened_by_text_or_by_fields():
    body = TypeAdapter(StartBody)
    assert isinstance(body.validate_python({"joint_toml": "x"}), StartCommand)
    assert body.validate_python({"entry": {"joint": "A-1"}}).entry == JointEntry(joint="A-1")


@pytest.mark.parametrize(
    "wrong", [{"u_s": 0}, {"u_s": 61}, {"at_s": -1}, {"how": "guess"}, {"boundary": "bead"}]
)
def test_a_mark_that_cannot_be_is_refused(wrong):
    right = {"boundary": "cooling", "at_s": 1.0, "how": "curve", "by": "R. Okafor"}
    MarkCommand.model_validate(right)
    with pytest.raises(ValidationError):
        MarkCommand.model_validate(right | wrong)
