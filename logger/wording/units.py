"""The units a person wants to read; one conversion, here, from the domain's units."""

from dataclasses import dataclass
from enum import StrEnum


class PressureUnit(StrEnum):
    BAR = "bar"
    MPA = "MPa"
    PSI = "psi"


class LengthUnit(StrEnum):
    MM = "mm"
    INCH = "in"


class TemperatureUnit(StrEnum):
    DEGC = "degC"
    DEGF = "degF"


_PER_BAR = {PressureUnit.BAR: 1.0, PressureUnit.MPA: 0.1, PressureUnit.PSI: 14.503773773}
_PER_MM = {LengthUnit.MM: 1.0, LengthUnit.INCH: 1 / 25.4}
_BAR_PER_MPA = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """Units of output. Interface pressure is in N/mm2 unless pressures are in psi."""

    pressure: PressureUnit = PressureUnit.BAR
    length: LengthUnit = LengthUnit.MM
    temperature: TemperatureUnit = TemperatureUnit.DEGC

    @property
    def interface(self) -> str:
        return "psi" if self.pressure is PressureUnit.PSI else "N/mm2"

    @property
    def area(self) -> str:
        return f"{self.length}2"

    def gauge_of(self, pressure_bar: float) -> float:
        return pressure_bar * _PER_BAR[self.pressure]

    def interface_of(self, pressure_MPa: float) -> float:
        if self.pressure is PressureUnit.PSI:
            return pressure_MPa * _BAR_PER_MPA * _PER_BAR[PressureUnit.PSI]
        return pressure_MPa

    def length_of(self, length_mm: float) -> float:
        return length_mm * _PER_MM[self.length]

    def area_of(self, area_mm2: float) -> float:
        return area_mm2 * _PER_MM[self.length] ** 2

    def temperature_of(self, temperature_degC: float) -> float:
        if self.temperature is TemperatureUnit.DEGF:
            return temperature_degC * 9 / 5 + 32
        return temperature_degC


METRIC = Units()
INCH = Units(pressure=PressureUnit.PSI, length=LengthUnit.INCH, temperature=TemperatureUnit.DEGF)
