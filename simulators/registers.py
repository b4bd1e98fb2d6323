"""The register map of the simulated rig, unit id 1; input registers (function 4), mirrored as holding (3).

    address  content                              engineering value
    0        pressure counts, uint16              bar  = (counts - 6400) * 250 / 25600
    1        plate temperature counts, uint16     degC = counts * 0.1
    2        carriage counts, uint16              mm   = counts * 0.02 - 20
    3        plate in, 0 or 1
    4-9      0
    10-11    pressure, float32, words ABCD        bar, the value of register 0
    12-13    plate temperature, float32, ABCD     degC, the value of register 1

Pressure counts follow a 4-20 mA input: 6400 is 4 mA and 0 bar, 32000 is 20 mA and 250 bar, 0 a broken wire.
Writing is refused with exception 1. While the scenario says "no reply", nothing is sent at all.
"""

import struct

from simulators.sensors import Reading

UNIT_ID = 1
REGISTER_COUNT = 14


def registers_of(reading: Reading) -> list[int]:
    """All registers from address 0 for one reading."""
    floats = struct.pack(">ff", reading.pressure_bar, reading.plate_temperature_degC)
    return [*reading, 0, 0, 0, 0, 0, 0, *struct.unpack(">4H", floats)]


def text_line_of(reading: Reading) -> str:
    """The serial text line: bar, degC, mm and plate in, e.g. `P=  18.42 T=221.3 X=  0.00 I=1`."""
    return (
        f"P={reading.pressure_bar:7.2f} T={reading.plate_temperature_degC:5.1f} "
        f"X={reading.carriage_mm:6.2f} I={reading.plate_in}"
    )
