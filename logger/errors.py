"""Every error that Beadwatch raises on purpose.

    BeadwatchError
    ├── InputError          a file or value that a person gave is wrong           exit 3
    ├── ProcedureRefusal    the procedure does not cover this joint               exit 4
    ├── DeviceError         a sensor, bus or port did not answer as it should     exit 5
    └── StoreError          the record could not be read or written               exit 5
        └── DamagedRecord   the file itself is damaged

An error carries what the caller needs to act; its text names the file, key and line where there is one.
"""

from collections.abc import Mapping


class BeadwatchError(Exception):
    """Root of all errors raised on purpose."""


class InputError(BeadwatchError):
    """Input is wrong. `str()` is one line: `FILE:LINE: [TABLE] KEY: what is wrong (nearest valid choice)`."""

    def __init__(self, message: str, *, file: str = "", line: int | None = None, key: str = "") -> None:
        self.message = message
        self.file = file
        self.line = line
        self.key = key
        where = f"{file}:{line}" if file and line is not None else file
        super().__init__(": ".join(part for part in (where, key, message) if part))


class ProcedureRefusal(BeadwatchError):  # noqa: N818 - the trade says refusal
    """The procedure does not cover this joint: a code and its parameters, worded at the edge."""

    def __init__(self, code: str, parameters: Mapping[str, str | float] | None = None) -> None:
        self.code = code
        self.parameters: Mapping[str, str | float] = dict(parameters or {})
        super().__init__(code)


class DeviceError(BeadwatchError):
    """A device, bus or port failed; the driver has already translated the library's own error."""


class StoreError(BeadwatchError):
    """The record could not be opened, read or written."""


class DamagedRecord(StoreError):  # noqa: N818 - what is damaged is the record
    """The file is there and could be read, but it is damaged: no try will mend it."""
