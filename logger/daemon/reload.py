"""SIGHUP: the rig file is read again between joints, never under one."""

import asyncio
import logging
import time
from pathlib import Path

from logger.config.rig_file import load_rig
from logger.daemon.notify import notify
from logger.daemon.recorder import Recorder
from logger.errors import BeadwatchError

_log = logging.getLogger(__name__)


class Reload:
    """Whether the recorder is to begin again with the rig file as it stands now."""

    def __init__(self, rig_file: Path, recorder: Recorder, stop: asyncio.Event) -> None:
        self._rig_file = rig_file
        self._recorder = recorder
        self._stop = stop
        self.is_wanted = False

    def ask(self) -> None:
        """Stop for a new beginning, unless a joint is open or the file is wrong: then all stays as it is."""
        if self._recorder.open_record is not None:
            self._refuse("a joint is open")
            return
        try:
            load_rig(self._rig_file)
        except BeadwatchError as error:
            self._refuse(str(error))
            return
        _log.info("reading %s again", self._rig_file)
        notify(f"RELOADING=1\nMONOTONIC_USEC={time.monotonic_ns() // 1000}")
        self.is_wanted = True
        self._stop.set()

    def _refuse(self, why: str) -> None:
        _log.warning("the rig file was not read again: %s", why)
        notify(f"STATUS=rig file not read again: {why}")
