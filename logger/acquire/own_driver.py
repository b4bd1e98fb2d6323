"""A driver that an integrator wrote, in a file beside the rig file: the class `Driver` of that file.

Whatever it does wrong is a DeviceError, so that a gap is a gap and the other buses go on.
"""

import contextlib
import importlib.util
from collections.abc import Sequence
from pathlib import Path

from logger.acquire.driver import Answer, Driver
from logger.acquire.grouping import Request
from logger.domain.bus import OwnDriverBus
from logger.domain.clock import Clock
from logger.errors import BeadwatchError, DeviceError, InputError

_CLASS = "Driver"


class OwnDriver:
    """The integrator's driver, its errors translated."""

    def __init__(self, bus: OwnDriverBus, requests: Sequence[Request], clock: Clock) -> None:
        """Raises InputError where the file cannot be run, has no such class, or it refuses the bus."""
        self._where = f"{bus.name} ({bus.file})"
        self._driver = _made(bus, requests, clock)

    async def ensure_ready(self) -> None:
        try:
            await self._driver.ensure_ready()
        except Exception as error:
            raise self._told(error) from error

    async def read(self, request: Request) -> Answer:
        try:
            answer = await self._driver.read(request)
            # What is no answer would be noticed where no driver is to blame any more.
            return Answer(readings=tuple(answer.readings), sent_s=answer.sent_s, received_s=answer.received_s)
        except Exception as error:
            raise self._told(error) from error

    async def ensure_closed(self) -> None:
        with contextlib.suppress(Exception):
            await self._driver.ensure_closed()

    def _told(self, error: Exception) -> DeviceError:
        if isinstance(error, DeviceError):
            return error
        return DeviceError(f"{self._where}: {type(error).__name__}: {error}")


def _made(bus: OwnDriverBus, requests: Sequence[Request], clock: Clock) -> Driver:
    spec = importlib.util.spec_from_file_location(f"own_driver_{bus.name}", Path(bus.file))
    if spec is None or spec.loader is None:
        raise InputError("is no Python file", file=bus.file)
    module = importlib.util.module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
    except FileNotFoundError:
        raise InputError("no such file", file=bus.file) from None
    except Exception as error:
        line = error.lineno if isinstance(error, SyntaxError) else None
        raise InputError(
            f"cannot be run: {type(error).__name__}: {error}", file=bus.file, line=line
        ) from error
    if not hasattr(module, _CLASS):
        raise InputError(f"has no class {_CLASS}", file=bus.file)
    try:
        driver: Driver = getattr(module, _CLASS)(bus, requests, clock)
    except BeadwatchError:
        raise
    except Exception as error:
        raise InputError(
            f"{_CLASS} cannot be made: {type(error).__name__}: {error}", file=bus.file
        ) from error
    return driver
