"""Piston area from bore, rod and number of cylinders, checked against the machine's plate."""

from logger.config.toml_file import Document, Place
from logger.domain.geometry import PressurisedSide, piston_area_mm2

PLATE_SHARE = 0.005
"""A plate prints three digits: half a unit of the third is at most half a percent."""


def checked_piston_area_mm2(
    document: Document,
    place: Place,
    cylinders: tuple[float, float, int, PressurisedSide],
    plate: tuple[float | None, Place],
) -> float:
    """Return the area that `cylinders` (bore, rod, count, side) give.

    Args:
        document: the file, for the error's line.
        place: the table of bore and rod.
        cylinders: bore and rod in mm, number of cylinders, pressurised side.
        plate: the area on the machine's plate in mm2 or None, and its place in the file.

    Raises:
        InputError: the rod fills the bore, or the plate says another area.
    """
    bore, rod, count, side = cylinders
    if rod >= bore:
        raise document.error((*place, "rod"), f"rod {rod:g} mm fills the bore of {bore:g} mm")
    area = piston_area_mm2(bore, rod, count, side)
    given, plate_place = plate
    if given is not None and abs(area - given) > PLATE_SHARE * given:
        raise document.error(
            plate_place,
            f"{given:.1f} mm2 differs from the {area:.1f} mm2 of bore, rod and number; correct one",
        )
    return area
