"""Areas of pipe ends and pistons."""

import math


def pipe_area_mm2(outside_diameter_mm: float, wall_mm: float) -> float:
    """End area of a pipe: pi x e x (dn - e)."""
    return math.pi * wall_mm * (outside_diameter_mm - wall_mm)


def piston_area_mm2(bore_mm: float, rod_mm: float, cylinders: int) -> float:
    """Total effective piston area with the rod side pressurised; `rod_mm` 0 gives the full bore."""
    return cylinders * math.pi / 4 * (bore_mm**2 - rod_mm**2)
