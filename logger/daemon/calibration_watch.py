"""Calibrations that run out while the recorder runs: it runs for weeks."""

from logger.daemon.clock import MachineClock
from logger.daemon.recorder import Recorder
from logger.domain.channel import Quantity, is_overdue
from logger.domain.rig import PLATE_SURFACE, Rig


class CalibrationWatch:
    """Raises an alarm once for each calibration that is overdue, and for the plate's surface alike."""

    def __init__(self, rig: Rig, recorder: Recorder, clock: MachineClock) -> None:
        self._rig = rig
        self._recorder = recorder
        self._clock = clock
        self._told: set[Quantity | str] = set()

    def look(self) -> None:
        today = self._clock.utc().date().isoformat()
        for channel in self._rig.channels:
            if channel.quantity not in self._told and is_overdue(channel.calibration_due, today):
                self._told.add(channel.quantity)
                told = {"channel": channel.quantity.value, "due": channel.calibration_due}
                self._recorder.alarm("calibration.overdue", told)
        surface = self._rig.plate_surface
        if surface is not None and PLATE_SURFACE not in self._told and is_overdue(surface.due, today):
            self._told.add(PLATE_SURFACE)
            self._recorder.alarm(
                "plate_surface.overdue", {"measured": surface.measured_on, "due": surface.due}
            )
