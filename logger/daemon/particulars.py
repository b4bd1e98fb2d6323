"""A joint's particulars, read from the texts that its record keeps."""

import json
import tomllib
from typing import Any

from logger.domain.channel import is_overdue
from logger.domain.particulars import Particulars
from logger.domain.record import JointRecord
from logger.domain.rig import PLATE_SURFACE


def particulars_of(record: JointRecord) -> Particulars:
    """Return them without checking the joint file again: it was checked when the joint was opened."""
    header = record.header
    entered = _table(header.joint_toml)
    rig: dict[str, Any] = json.loads(header.rig_json).get("rig", {})
    surface: dict[str, Any] = rig.get("plate_surface") or {}
    where = entered.get("coordinates")
    return Particulars(
        rig=str(rig.get("name", "")),
        operator_badge=str(entered.get("operator_badge", "")),
        place=str(entered.get("place", "")),
        coordinates_deg=None if where is None else (float(where[0]), float(where[1])),
        software=record.run.software,
        overdue=(
            *(
                str(channel["quantity"])
                for channel in rig.get("channels", ())
                if is_overdue(channel.get("calibration_due", ""), header.opened.utc)
            ),
            *((PLATE_SURFACE,) if is_overdue(surface.get("due", ""), header.opened.utc) else ()),
        ),
    )


def _table(text: str | None) -> dict[str, Any]:
    """Empty for a joint without a file, and for a file that TOML no longer reads."""
    try:
        return tomllib.loads(text or "")
    except tomllib.TOMLDecodeError:
        return {}
