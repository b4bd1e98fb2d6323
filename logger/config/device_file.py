"""Device description files: the register map of a kind of device, so that a rig file can name its points."""

import json
import os
from collections.abc import Iterator
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from logger.config.formula import nearest
from logger.config.quantity import Duration
from logger.config.rig_tables import Baud, Name, Number, PointTable, RtuParity
from logger.config.toml_file import Document, FileModel, Place, read_document
from logger.domain.bus import Parity
from logger.errors import InputError


class LineSettings(FileModel):
    """`[line]`: how the device talks as it comes out of its box."""

    baudrate: Baud = 19200
    parity: RtuParity = Parity.EVEN
    stop_bits: Literal[1, 2] = 1
    worst_latency: Duration = 0.2


class DevicePoint(PointTable):
    """`[point.X]`: one number, or `count` alike, named X_1, X_2 and so on, `step` addresses apart."""

    count: int | None = Field(default=None, ge=1, le=64, strict=True)
    step: int = Field(default=1, ge=1, le=64, strict=True)
    raw: tuple[Number, Number] | None = None
    """Raw numbers at the ends of the span, which the rig file gives in the sensor's unit."""


class DeviceFile(FileModel):
    """The keys of a device file, format 1."""

    format: Literal[1] = 1
    name: Name
    note: str = ""
    line: LineSettings = LineSettings()
    point: dict[Annotated[str, Field(pattern="^[a-z0-9_-]+$")], DevicePoint] = Field(min_length=1)

    def points(self) -> dict[str, DevicePoint]:
        """Return every point by its name, the counted ones one by one."""
        return dict(self._points())

    def _points(self) -> Iterator[tuple[str, DevicePoint]]:
        for name, point in self.point.items():
            if point.count is None:
                yield name, point
            for number in range(point.count or 0):
                address = (point.address or 0) + number * point.step
                yield f"{name}_{number + 1}", point.model_copy(update={"address": address})


def device_of(text: str, file: str) -> DeviceFile:
    """Read the text of a device file. Raises InputError naming file, line and key."""
    return device_in(Document(text, file))


def device_in(document: Document, table: object = None, above: Place = ()) -> DeviceFile:
    """Read a device from a whole document, or from the `table` at `above`, as a rig file may hold one."""
    device = document.checked(DeviceFile, table, above)
    for name, point in device.point.items():
        for key in ("table", "address"):
            if getattr(point, key) is None:
                raise document.error((*above, "point", name, key), "required key is missing")
    return device


def text_of(name: str, device: DeviceFile) -> str:
    """Return a device as tables of a rig file, which needs no other file then."""
    head = f"device.{json.dumps(name)}"
    lines = [f"[{head}]", f"name = {json.dumps(device.name)}"]
    for point_name, point in device.point.items():
        keys = point.model_dump(mode="json", exclude_none=True)
        lines += ["", f"[{head}.point.{point_name}]", *(f"{key} = {json.dumps(keys[key])}" for key in keys)]
    return "\n".join(lines) + "\n"


@cache
def known_devices() -> dict[str, DeviceFile]:
    """Return the shipped device descriptions by name."""
    with as_file(files("configs") / "devices") as folder:
        paths = sorted(folder.glob("*.toml"))
        return {path.stem: device_of(read_document(path).text, str(path)) for path in paths}


def device_named(name: str, folder: Path | None) -> DeviceFile:
    """Return a shipped device, or the one described in NAME.toml of an integrator's own `folder`.

    Raises:
        InputError: that file is wrong, or has the name of a shipped one: nothing overrides silently.
        KeyError: there is no such device; its text names the nearest.
    """
    shipped, own = known_devices(), _own_devices(folder)
    if name in shipped and name in own:
        raise InputError("has the name of a device that is shipped; give it another", file=str(own[name]))
    if name in own:
        return device_of(read_document(own[name]).text, str(own[name]))
    if name not in shipped:
        raise KeyError(f'unknown device "{name}"{nearest(name, [*own, *shipped])}')
    return shipped[name]


def _own_devices(folder: Path | None) -> dict[str, Path]:
    # Not Path.is_dir: it raises where a sandboxed service may not look into the home of its user.
    if folder is None or not os.path.isdir(folder):
        return {}
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def keys_of(point: DevicePoint) -> dict[str, Any]:
    """Return what the point says, by the keys that a channel has too."""
    return {key: value for key in PointTable.model_fields if (value := getattr(point, key)) is not None}
