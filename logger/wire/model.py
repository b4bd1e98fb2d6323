"""What every wire model shares: strict reading, fixed key order, floats at full precision, no NaN."""

import json
from typing import TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from logger.errors import InputError


class WireModel(BaseModel):
    """A frozen part of a published document; its fields stand in the order of the JSON keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, serialize_by_alias=True)


class WireMessage(WireModel):
    """A document of the local interface: what it is sent with is always there, defaults too."""

    model_config = ConfigDict(json_schema_serialization_defaults_required=True)


Document = TypeVar("Document", bound=WireModel)


def text_of(document: WireModel) -> str:
    """Return one line of JSON with its newline; equal documents give equal bytes."""
    return json.dumps(document.model_dump(mode="json"), ensure_ascii=False, allow_nan=False) + "\n"


def command_of(model: type[Document], **fields: object) -> Document:
    """Make a command of what people gave. Raises InputError naming the first wrong field."""
    try:
        return model.model_validate(fields)
    except ValidationError as err:
        first = err.errors(include_url=False)[0]
        raise InputError(first["msg"], key=".".join(str(part) for part in first["loc"])) from err


def document_of(model: type[Document], text: str, file: str = "") -> Document:
    """Read a document of exactly this schema. Raises InputError naming the file and the first wrong key."""
    try:
        return model.model_validate_json(text, strict=True)
    except ValidationError as err:
        first = err.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise InputError(first["msg"], file=file, key=key) from err
