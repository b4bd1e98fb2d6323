"""What is put on record afterwards on the rig's own machine: corrections, attachments, opinions, imports."""

from typing import Annotated, Literal

from pydantic import Field

from logger.domain.judgement import Verdict
from logger.wire.desk import Name, Text
from logger.wire.model import WireMessage, WireModel

Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Fingerprint = Annotated[str, Field(pattern="^[0-9a-f]{32}$")]
Reason = Annotated[str, Field(min_length=1, max_length=2000)]


class RecordMessage(WireMessage):
    """Which record the recorder writes: the absolute path of its file."""

    schema_: Literal["beadwatch.record/1"] = Field(default="beadwatch.record/1", alias="schema")
    store: str


class CorrectionCommand(WireModel):
    """What was entered wrongly, and what is right; what stood there stays."""

    joint_uuid: str
    what: Annotated[str, Field(min_length=1, max_length=100)]
    value: Text
    by: Name
    reason: Reason


class AttachmentCommand(WireModel):
    """A file of which a copy of this name already lies in the folder of attachments beside the record."""

    joint_uuid: str
    file: Annotated[str, Field(min_length=1, max_length=255)]
    copy_name: Annotated[str, Field(pattern="^[0-9a-f]{16}[^/]{0,32}$")]
    sha256: Sha256
    by: Name
    reason: Text = ""


class OpinionCommand(WireModel):
    """A judgement formed later, beside the verdict: its JSON exactly as emitted, and under which terms."""

    joint_uuid: str
    terms: Text
    verdict: Verdict
    judgement_json: str
    by: Name
    reason: Reason


class FiguresCommand(WireModel):
    """The figures of a procedure file, known by its hash, were held against a copy of the document."""

    procedure: Annotated[str, Field(min_length=1, max_length=100)]
    digest: Sha256
    document: Annotated[str, Field(min_length=1, max_length=500)]
    copy_sha256: Sha256 | None = None
    by: Name
    reason: Text = ""


class Confirmed(WireMessage):
    """The number of the statement, of those about no joint."""

    schema_: Literal["beadwatch.confirmed/1"] = Field(default="beadwatch.confirmed/1", alias="schema")
    seq: int


class KeyRenewalCommand(WireModel):
    """Let the key that seals live joints, or demonstrations, name its successor: by whom, and why."""

    use: Literal["live", "demonstration"] = "live"
    by: Name
    reason: Reason


class RenewedKey(WireMessage):
    """The fingerprint of the key that seals from now on."""

    schema_: Literal["beadwatch.renewed-key/1"] = Field(default="beadwatch.renewed-key/1", alias="schema")
    use: str
    fingerprint: str


class ImportCommand(WireModel):
    """The file of a sealed joint; `keys` are fingerprints of which one has to have signed, empty for any."""

    sealed: str
    keys: tuple[Fingerprint, ...] = ()


class Imported(WireMessage):
    """How many links of the joint were new; none where all of it was there."""

    schema_: Literal["beadwatch.imported/1"] = Field(default="beadwatch.imported/1", alias="schema")
    joint_uuid: str
    new_links: int
