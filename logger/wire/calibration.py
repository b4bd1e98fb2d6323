"""One line of a rig's calibration history; version 1."""

from typing import Literal

from pydantic import Field

from logger.wire.model import WireModel


class PointModel(WireModel):
    reference: float
    number: float
    spread: float
    count: int
    error_before: float
    error_after: float


class CalibrationModel(WireModel):
    """Values in the channel's unit; `number` is the raw number before scaling, or that in a line of text."""

    schema_: Literal["beadwatch.calibration/1"] = Field(default="beadwatch.calibration/1", alias="schema")
    rig: str
    channel: str
    unit: str
    sensor_serial: str
    calibrated: str
    due: str
    by: str
    reference: str
    """The reference instrument and its serial."""
    certificate: str
    reference_due: str = ""
    """When the reference's own calibration is due; empty where nobody said."""
    reference_uncertainty: float
    points: tuple[PointModel, ...]
    gain: float
    offset: float
    standard_uncertainty: float
    recorded_utc: str
