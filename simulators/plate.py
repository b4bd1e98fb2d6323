"""The heated plate: a bang-bang thermostat, the heat the pipe ends draw, and a sensor that lags."""

from simulators.hydraulics import STEP_S
from simulators.scenario import Plate

# No published source; they give a thermostat swing of about a minute, as small plates show.
_HEATING_DEGC_PER_S = 0.18
_LOSS_PER_S = 0.0004
_DIP_DECAY_S = 4.0
_COLD_AGAIN_S = 5.0  # ends that were off the plate for so long draw heat anew


class PlateModel:
    """Advances by `STEP_S` per call of `step`; `reading_degC` is what the built-in sensor shows."""

    __slots__ = (
        "_ambient",
        "_apart_s",
        "_dip_left",
        "_heating",
        "_lag_share",
        "_plate",
        "_setting",
        "_t",
        "reading_degC",
    )

    def __init__(self, plate: Plate, setting_degC: float) -> None:
        self._plate = plate
        self._setting = setting_degC
        self._ambient = plate.ambient_degC
        self._lag_share = STEP_S / plate.sensor_lag_s
        self._t = setting_degC - plate.starts_below_K
        self._heating = False
        self._dip_left = plate.contact_dip_degC
        self._apart_s = 0.0
        self.reading_degC = self._t

    def step(self, *, in_contact: bool) -> None:
        """Advance by `STEP_S`; the ends draw their heat from the first contact on, and once a heating."""
        loss = _LOSS_PER_S * (self._t - self._ambient)
        self._t += ((_HEATING_DEGC_PER_S if self._heating else 0.0) - loss) * STEP_S
        self._apart_s = 0.0 if in_contact else self._apart_s + STEP_S
        if self._apart_s >= _COLD_AGAIN_S:
            self._dip_left = self._plate.contact_dip_degC
        if in_contact and self._dip_left > 0.001:
            drawn = self._dip_left * STEP_S / _DIP_DECAY_S
            self._dip_left -= drawn
            self._t -= drawn
        self.reading_degC += (self._t - self.reading_degC) * self._lag_share
        half = self._plate.hysteresis_degC / 2.0
        if self.reading_degC < self._setting - half:
            self._heating = True
        elif self.reading_degC > self._setting + half:
            self._heating = False
