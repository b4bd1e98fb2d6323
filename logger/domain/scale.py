"""From the stored form of polls to engineering units: the one way, live and replayed."""

from collections.abc import Iterable

from logger.domain.channel import SECOND_OF, Quality, Quantity
from logger.domain.plausibility import UNWATCHED, Reading, Watch, assessed
from logger.domain.rig import Rig
from logger.domain.sample import RawSample, Sample


class Scaler:
    """Scales polls in their order; what it remembers of earlier ones only marks readings, never changes them.

    `qualities` holds the mark of each channel's latest reading.
    """

    def __init__(self, rig: Rig) -> None:
        self._channels = {channel.quantity: channel for channel in rig.channels}
        self._watches: dict[Quantity, Watch] = {}
        self.qualities: dict[Quantity, Quality] = {}

    def value_of(self, quantity: Quantity) -> float | None:
        """Return the latest reading of a channel, None where it may not be used or there was none."""
        watch = self._watches.get(quantity, Watch())
        is_good = self.qualities.get(quantity) is Quality.GOOD
        return watch.last_good.value if is_good and watch.last_good is not None else None

    def read(self, raw: RawSample) -> Sample:
        """Scale one poll; a reading whose quality is not good is left out, and stays in the record."""
        values: dict[Quantity, float] = {}
        for reading in raw.readings:
            quantity = reading.quantity
            if quantity not in self._channels:
                continue
            channel = self._channels[quantity]
            now = Reading(raw.t_ms / 1000, channel.scaling.value_of(reading.raw))
            second = self._watches.get(SECOND_OF.get(quantity, quantity), UNWATCHED).last_good
            before = self._watches.get(quantity, UNWATCHED)
            watch, quality = assessed(channel, before, now, reading.raw, second)
            self._watches[quantity], self.qualities[quantity] = watch, quality
            if quality is Quality.GOOD:
                values[quantity] = now.value
        plate_in = values.get(Quantity.PLATE_IN)
        return Sample(
            t_s=raw.t_ms / 1000,
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
