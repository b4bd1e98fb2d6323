"""A folder of exported joints and a manifest of what it holds, so that an export can go on where it broke."""

import hashlib
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from logger.errors import InputError, StoreError
from logger.export.atomic import write_whole

NAME = "manifest.json"
AT_ONCE = 50
"""Files between two writings of the manifest: what an export that broke off has to write again at most."""


class ExportedFile(BaseModel):
    """One file; `joint` names the joint and its state, empty for a table over many."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    sha256: str
    bytes: int
    joint: str


class Manifest(BaseModel):
    """What stands in `manifest.json`."""

    model_config = ConfigDict(extra="forbid", serialize_by_alias=True)

    schema_: Literal["beadwatch.manifest/1"] = Field(default="beadwatch.manifest/1", alias="schema")
    files: dict[str, ExportedFile] = Field(default_factory=dict)


class ExportFolder:
    """Files are whole or not there; the manifest names each with its SHA-256 and the joint it holds.

    Raises InputError for a manifest that is none, StoreError where the folder cannot be written.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(f"{folder}: {error.strerror or error}") from error
        self._manifest = _manifest_of(folder / NAME)
        self._name_of = {file.joint: name for name, file in self._manifest.files.items() if file.joint}
        self._unnamed = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self._write_manifest()

    def holds(self, joint: str) -> bool:
        """Whether a file of this state of the joint is there, and is still what the manifest says."""
        name = self._name_of.get(joint)
        if name is None:
            return False
        try:
            data = (self._folder / name).read_bytes()
        except OSError:
            return False
        return hashlib.sha256(data).hexdigest() == self._manifest.files[name].sha256

    def put(self, name: str, data: bytes, joint: str = "") -> None:
        """Write one file; the manifest follows within `AT_ONCE` files and never names what is not there."""
        write_whole(self._folder / name, data)
        digest = hashlib.sha256(data).hexdigest()
        self._manifest.files[name] = ExportedFile(sha256=digest, bytes=len(data), joint=joint)
        self._unnamed += 1
        if self._unnamed >= AT_ONCE:
            self._write_manifest()

    def _write_manifest(self) -> None:
        self._unnamed = 0
        write_whole(self._folder / NAME, (self._manifest.model_dump_json(indent=1) + "\n").encode())


def _manifest_of(path: Path) -> Manifest:
    try:
        return Manifest.model_validate_json(path.read_bytes())
    except FileNotFoundError:
        return Manifest()
    except OSError as error:
        raise InputError(error.strerror or str(error), file=str(path)) from error
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise InputError(f"is no manifest: {first['msg']}", file=str(path), key=key) from error
