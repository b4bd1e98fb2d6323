"""Tolerances of temperature sensors by class: IEC 60751 resistors and IEC 60584 type K thermocouples.

Sources: IEC 60751 and IEC 60584 as restated by sensor makers (seen). A tolerance is a bound, not a standard
uncertainty; read as rectangular, the standard uncertainty is the bound / sqrt 3.
"""

import math
from enum import StrEnum


class SensorClass(StrEnum):
    PT100_AA = "Pt100-AA"
    PT100_A = "Pt100-A"
    PT100_B = "Pt100-B"
    PT100_C = "Pt100-C"
    K_1 = "K-1"
    K_2 = "K-2"
    K_3 = "K-3"


_PT100: dict[SensorClass, tuple[float, float]] = {
    SensorClass.PT100_AA: (0.1, 0.0017),
    SensorClass.PT100_A: (0.15, 0.002),
    SensorClass.PT100_B: (0.30, 0.005),
    SensorClass.PT100_C: (0.6, 0.01),
}
"""Constant in K and share of the temperature in degC."""

_TYPE_K: dict[SensorClass, tuple[float, float, float, float]] = {
    SensorClass.K_1: (1.5, 0.004, -40.0, 1000.0),
    SensorClass.K_2: (2.5, 0.0075, -40.0, 1200.0),
    SensorClass.K_3: (2.5, 0.015, -200.0, 40.0),
}
"""Least tolerance in K, share of the temperature in degC, lower and upper end of the class."""


def tolerance_degC(sensor_class: SensorClass, temperature_degC: float) -> float:
    """Return the tolerance at a temperature.

    Raises:
        ValueError: the class of a thermocouple does not reach that temperature.
    """
    if sensor_class in _PT100:
        constant, share = _PT100[sensor_class]
        return constant + share * abs(temperature_degC)
    least, share, low, high = _TYPE_K[sensor_class]
    if not low <= temperature_degC <= high:
        raise ValueError(f"class {sensor_class} runs from {low:g} to {high:g} degC")
    return max(least, share * abs(temperature_degC))


def standard_uncertainty_degC(sensor_class: SensorClass, temperature_degC: float) -> float:
    """Return the tolerance as a standard uncertainty, read as rectangular."""
    return tolerance_degC(sensor_class, temperature_degC) / math.sqrt(3)
