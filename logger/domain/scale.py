"""From the stored form of a poll to engineering units: the one way, live and replayed."""

from logger.domain.channel import Quality, Quantity
from logger.domain.rig import Rig
from logger.domain.sample import RawSample, Sample


def sample_of(raw: RawSample, rig: Rig) -> Sample:
    """Scale one stored poll; a reading whose quality is not good is left out, and stays in the record."""
    values: dict[Quantity, float] = {}
    for reading in raw.readings:
        channel = rig.channel_of(reading.quantity)
        if channel is None:
            continue
        value = channel.scaling.value_of(reading.raw)
        if channel.quality_of(value) is Quality.GOOD:
            values[reading.quantity] = value
    plate_in = values.get(Quantity.PLATE_IN)
    return Sample(
        t_s=raw.t_ms / 1000,
        pressure_bar=values.get(Quantity.PRESSURE),
        plate_temperature_degC=values.get(Quantity.PLATE_TEMPERATURE),
        carriage_mm=values.get(Quantity.CARRIAGE),
        plate_in=None if plate_in is None else plate_in >= 0.5,
    )
