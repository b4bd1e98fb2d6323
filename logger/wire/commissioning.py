"""A rig's commissioning as it is kept beside the rig file; version 1."""

from typing import Literal

from pydantic import Field

from logger.wire.model import WireModel


class TrialModel(WireModel):
    """`figures` carry their unit in the name."""

    trial: str
    subject: str
    outcome: str
    figures: dict[str, float]
    note: str


class CommissioningModel(WireModel):
    schema_: Literal["beadwatch.commissioning/1"] = Field(default="beadwatch.commissioning/1", alias="schema")
    rig: str
    serial: str
    power_pack_serial: str
    rig_fingerprint: str
    """First 16 bytes of the SHA-256 over the rig's canonical form."""
    keys: dict[str, str]
    """Fingerprints of the record's keys by their use, empty where it has none yet."""
    software: str
    by: str
    recorded_utc: str
    results: tuple[TrialModel, ...]
