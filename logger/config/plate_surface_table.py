"""`[plate_surface]` of RIG.toml: its shape, and what it means."""

from datetime import date
from typing import Annotated, Any

from pydantic import Field

from logger.config.quantity import TEMPERATURE, parse_difference
from logger.config.toml_file import Document, FileModel
from logger.domain.plate_surface import FaceCheck, SurfaceCheck, due_on

FACES = ("a", "b")


class FaceTable(FileModel):
    """`[plate_surface.a]`: one face of the plate."""

    offset: Any
    """Mean of the surface less the built-in sensor, a difference like "-2.4 K"."""
    spread: Any
    """Greatest less least of the points read."""


class PlateSurfaceTable(FileModel):
    """`[plate_surface]`: both faces read with another instrument, as `beadwatch commission` prints it."""

    measured: date
    instrument: Annotated[str, Field(min_length=1, max_length=100)]
    """The thermometer and its serial."""
    due_after_days: int | None = Field(default=None, ge=1, le=3660, strict=True)
    """When the faces are to be read again; left out, after 183 days (common practice, no source)."""
    a: FaceTable
    b: FaceTable


def plate_surface_of(document: Document, table: PlateSurfaceTable | None) -> SurfaceCheck | None:
    """Raises InputError naming file, key and line."""
    if table is None:
        return None
    due, source = due_on(table.measured, table.due_after_days)
    return SurfaceCheck(
        measured_on=table.measured.isoformat(),
        instrument=table.instrument,
        faces=tuple(
            FaceCheck(
                face=face,
                offset_K=_kelvin(document, table, face, "offset"),
                spread_K=_kelvin(document, table, face, "spread"),
            )
            for face in FACES
        ),
        due=due,
        due_source=source,
    )


def _kelvin(document: Document, table: PlateSurfaceTable, face: str, key: str) -> float:
    place = ("plate_surface", face, key)
    try:
        value = round(parse_difference(getattr(getattr(table, face), key), TEMPERATURE), 9)
    except ValueError as error:
        raise document.error(place, str(error)) from None
    if key == "spread" and value < 0:
        raise document.error(place, "is greatest less least: it cannot be below 0")
    return value
