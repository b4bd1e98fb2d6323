"""The latest reading of each channel and whether readings arrive; never an old value passed off as new."""

from logger.domain.channel import UNIT_OF, Quality, Quantity
from logger.domain.rig import Rig
from logger.domain.sample import RawSample, Sample
from logger.domain.scale import Scaler
from logger.wire.live import ChannelMessage


class ChannelBoard:
    """What a viewer may know of the channels at one instant."""

    def __init__(self, rig: Rig) -> None:
        self._rig = rig
        self._scaler = Scaler(rig)
        self._read_s: dict[Quantity, float] = {}
        self.states: dict[Quantity, str] = {}

    def read(self, raw: RawSample) -> Sample:
        sample = self._scaler.read(raw)
        for reading in raw.readings:
            self._read_s[reading.quantity] = raw.t_ms / 1000
        return sample

    @property
    def all_ended(self) -> bool:
        return bool(self.states) and all(state == "ended" for state in self.states.values())

    def messages(self, now_s: float) -> tuple[ChannelMessage, ...]:
        """One message per channel of the rig, with the age of its value on the clock `now_s` is read from."""
        return tuple(self._message(channel.quantity, now_s) for channel in self._rig.channels)

    def _message(self, quantity: Quantity, now_s: float) -> ChannelMessage:
        at_s = self._read_s.get(quantity)
        return ChannelMessage(
            quantity=quantity,
            state=self.states.get(quantity, "waiting"),
            value=self._scaler.value_of(quantity),
            unit=UNIT_OF[quantity],
            quality=self._scaler.qualities.get(quantity, Quality.GOOD),
            age_s=None if at_s is None else max(0.0, now_s - at_s),
        )
