"""What a list says of a joint beside its name and verdict."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Particulars:
    """As entered or declared when the joint was opened; empty where nobody did.

    `software` is the recorder's version. `overdue` names the channels whose calibration was due before that
    day, and the plate's surface where that was due again.
    """

    rig: str
    operator_badge: str
    place: str
    coordinates_deg: tuple[float, float] | None
    software: str
    overdue: tuple[str, ...]
