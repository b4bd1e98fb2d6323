"""From the stored form of polls to engineering units: the one way, live and replayed."""

from collections.abc import Iterable

from logger.domain.channel import SECOND_OF, Quality, Quantity
from logger.domain.plausibility import Watch
from logger.domain.rig import Rig
from logger.domain.sample import RawSample, Sample


class Scaler:
    """Scales polls in their order; what it remembers of earlier ones only marks readings, never changes them.

    `qualities` holds the mark of each channel's latest reading.
    """

    def __init__(self, rig: Rig) -> None:
        watches = {channel.quantity: Watch(channel) for channel in rig.channels}
        self._watches = {
            quantity: (watch, watches.get(SECOND_OF[quantity]) if quantity in SECOND_OF else None)
            for quantity, watch in watches.items()
        }
        self.qualities: dict[Quantity, Quality] = {}

    def value_of(self, quantity: Quantity) -> float | None:
        """Return the latest reading of a channel, None where it may not be used or there was none."""
        is_good = self.qualities.get(quantity) is Quality.GOOD
        return self._watches[quantity][0].good_value if is_good else None

    def read(self, raw: RawSample) -> Sample:
        """Scale one poll; a reading whose quality is not good is left out, and stays in the record."""
        t_s = raw.t_ms / 1000
        values: dict[Quantity, float | None] = {}
        for reading in raw.readings:
            quantity = reading.quantity
            if quantity not in self._watches:
                continue
            watch, second = self._watches[quantity]
            quality = watch.mark(t_s, reading.raw, second)
            self.qualities[quantity] = quality
            if quality is Quality.GOOD:
                values[quantity] = watch.good_value
        plate_in = values.get(Quantity.PLATE_IN)
        return Sample(
            t_s=t_s,
            pressure_bar=values.get(Quantity.PRESSURE),
            plate_temperature_degC=values.get(Quantity.PLATE_TEMPERATURE),
            carriage_mm=values.get(Quantity.CARRIAGE),
            plate_in=None if plate_in is None else plate_in >= 0.5,
        )


def sample_of(raw: RawSample, rig: Rig) -> Sample:
    """Scale one poll by itself."""
    return Scaler(rig).read(raw)


def samples_of(raws: Iterable[RawSample], rig: Rig) -> list[Sample]:
    """Scale the polls of one joint from its first on."""
    scaler = Scaler(rig)
    return [scaler.read(raw) for raw in raws]
