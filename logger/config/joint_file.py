"""joint.toml: the operator's entry for one joint."""

from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from logger.config.cylinders import checked_piston_area_mm2
from logger.config.formula import nearest
from logger.config.pipe_table import pipe_ends
from logger.config.procedures import available_procedures, check_known
from logger.config.quantity import Area, Length, Pressure, Rod, Temperature
from logger.config.toml_file import Document, FileModel, Place, read_document
from logger.domain.geometry import PressurisedSide
from logger.domain.joint import Joint
from logger.domain.notices import JOINT_OPTIONS
from logger.domain.rig import Rig
from logger.errors import InputError

_AREA_SHARE = 0.001

Coordinates = tuple[
    Annotated[float, Field(ge=-90, le=90, strict=True)], Annotated[float, Field(ge=-180, le=180, strict=True)]
]


class CylinderTable(FileModel):
    """`[rig]`: the total effective piston area, or what it follows from."""

    cylinder_area: Area | None = None
    bore: Length | None = None
    rod: Rod | None = None
    cylinders: int | None = Field(default=None, ge=1, le=12, strict=True)
    pressurised: PressurisedSide = PressurisedSide.ROD
    """The side that closes the carriage: "rod" or "bore"."""


class JointFile(FileModel):
    """The keys of joint.toml."""

    format: int = Field(default=1, ge=1, le=1)
    joint: str = Field(min_length=1, max_length=100)
    procedure: str
    ambient_temperature: Temperature | None = None
    drag_pressure: Pressure | None = None
    operator: str = ""
    operator_badge: str = Field(default="", max_length=100)
    """Number of the operator's badge (ISO 12176-3), in quotes: it may begin with zeros."""
    project: str = ""
    place: str = Field(default="", max_length=200)
    """Where the joint is: a street, a chamber, a station."""
    coordinates: Coordinates | None = None
    """Latitude and longitude in decimal degrees, north and east positive."""
    options: tuple[str, ...] = ()
    """Declared departures: "workshop-reduction"."""
    pipe: dict[str, Any]
    rig: CylinderTable | None = None


def load_joint(path: Path, procedure_ids: Collection[str] | None = None) -> Joint:
    """Read joint.toml.

    `procedure_ids` are the procedures there are; the built-in ones when None.

    Raises:
        InputError: one line naming file, line and key, with the nearest valid choice.
    """
    return _joint(read_document(path), procedure_ids)


def joint_of(text: str, file: str = "joint", procedure_ids: Collection[str] | None = None) -> Joint:
    """Read the text of a joint.toml; `file` is what errors call it."""
    return _joint(Document(text, file), procedure_ids)


def with_rig(joint: Joint, rig: Rig) -> Joint:
    """Return the joint with the rig's piston area. Raises InputError where both give one and they differ."""
    if rig.piston_area_mm2 is None:
        return joint
    if joint.piston_area_mm2 is not None:
        difference = abs(joint.piston_area_mm2 - rig.piston_area_mm2)
        if difference > _AREA_SHARE * rig.piston_area_mm2:
            raise InputError(
                f"joint {joint.joint} gives {joint.piston_area_mm2:.1f} mm2 and rig {rig.name} "
                f"{rig.piston_area_mm2:.1f} mm2; leave it to one of them",
                key="[rig] cylinder_area",
            )
    return replace(joint, piston_area_mm2=rig.piston_area_mm2)


def _joint(document: Document, procedure_ids: Collection[str] | None) -> Joint:
    checked = document.checked(JointFile)
    unknown = check_known(
        checked.procedure, available_procedures() if procedure_ids is None else procedure_ids
    )
    if unknown:
        raise document.error(("procedure",), unknown)
    for option in checked.options:
        if option not in JOINT_OPTIONS:
            raise document.error(
                ("options",), f'unknown option "{option}"{nearest(option, list(JOINT_OPTIONS))}'
            )
    pipe_a, pipe_b = pipe_ends(document, checked.pipe)
    return Joint(
        joint=checked.joint,
        procedure=checked.procedure,
        pipe_a=pipe_a,
        pipe_b=pipe_b,
        ambient_temperature_degC=checked.ambient_temperature,
        drag_pressure_bar=checked.drag_pressure,
        piston_area_mm2=None if checked.rig is None else cylinder_area_mm2(document, checked.rig, ("rig",)),
        operator=checked.operator,
        operator_badge=checked.operator_badge,
        project=checked.project,
        place=checked.place,
        coordinates_deg=checked.coordinates,
        options=frozenset(checked.options),
    )


def cylinder_area_mm2(document: Document, table: CylinderTable, place: Place) -> float | None:
    """Return the piston area that a `[rig]` table gives, None where it gives none.

    Raises:
        InputError: bore, rod and cylinders given in part, a rod that fills the bore, or a cylinder_area that
            differs from what they give.
    """
    bore, rod, cylinders = table.bore, table.rod, table.cylinders
    parts = {"bore": bore, "rod": rod, "cylinders": cylinders}
    given = [key for key, value in parts.items() if value is not None]
    if not given:
        return table.cylinder_area
    if bore is None or rod is None or cylinders is None:
        missing = [key for key in parts if key not in given]
        raise document.error(
            (*place, given[0]), f"bore, rod and cylinders belong together; add {', '.join(missing)}"
        )
    return checked_piston_area_mm2(
        document,
        place,
        (bore, rod, cylinders, table.pressurised),
        (table.cylinder_area, (*place, "cylinder_area")),
    )
