"""Areas of pipe ends and pistons."""

import math
from enum import StrEnum


def pipe_area_mm2(outside_diameter_mm: float, wall_mm: float) -> float:
    """End area of a pipe: pi x e x (dn - e)."""
    return math.pi * wall_mm * (outside_diameter_mm - wall_mm)


class PressurisedSide(StrEnum):
    """The side of the piston that the oil presses on when the carriage closes."""

    ROD = "rod"
    BORE = "bore"


def piston_area_mm2(
    bore_mm: float, rod_mm: float, cylinders: int, side: PressurisedSide = PressurisedSide.ROD
) -> float:
    """Total effective piston area of all cylinders; on the rod side the rod takes its part away."""
    rod = rod_mm if side is PressurisedSide.ROD else 0.0
    return cylinders * math.pi / 4 * (bore_mm**2 - rod**2)


def series_wall_mm(outside_diameter_mm: float, series: int) -> float:
    """Least wall of the ISO 4065 family: dn / (2 S + 1), S = 10^(series/10), to 0.01 mm, then up to 0.1 mm.

    Found by fitting the published cells, not quoted from the standard.
    """
    ratio = 2 * 10 ** (series / 10) + 1
    return _up_to_tenth(round(outside_diameter_mm / ratio, 2))


def greatest_wall_mm(least_wall_mm: float) -> float:
    """Greatest wall that goes with a least wall: 1.1 e_min + 0.1 mm, up to 0.1 mm."""
    return _up_to_tenth(1.1 * least_wall_mm + 0.1)


def _up_to_tenth(length_mm: float) -> float:
    return math.ceil(round(length_mm * 10, 6)) / 10
