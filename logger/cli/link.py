"""Talking to a running recorder over its local socket."""

import socket
from pathlib import Path
from typing import TypeVar

import httpx
from pydantic import BaseModel

from logger.cli.barred import barred
from logger.errors import BeadwatchError, DeviceError, InputError, ProcedureRefusal, StoreError
from logger.wire.afterwards import (
    AttachmentCommand,
    Confirmed,
    CorrectionCommand,
    FiguresCommand,
    ImportCommand,
    Imported,
    KeyRenewalCommand,
    OpinionCommand,
    RecordMessage,
    RenewedKey,
)
from logger.wire.desk import BeadCommand, DragCommand, Said
from logger.wire.live import AbortCommand, Accepted, ClaimCommand, Refused, StartCommand, StateMessage

Message = TypeVar("Message", bound=BaseModel)


class NoRecorderError(DeviceError):
    """Nobody listens there at all."""


class BarredError(DeviceError):
    """Its socket is there, or may be, and another user's: whether somebody listens cannot be seen."""


class Link:
    """One recorder. Methods raise DeviceError when it does not answer, and what it refused a command with."""

    def __init__(self, path: Path, timeout_s: float = 5.0) -> None:
        self._socket = path
        transport = httpx.HTTPTransport(uds=str(path))
        self._client = httpx.Client(transport=transport, base_url="http://recorder", timeout=timeout_s)

    def close(self) -> None:
        self._client.close()

    def state(self, since: int = 0) -> StateMessage:
        return self._ask(StateMessage, "GET", f"/v1/state?since={since}", None)

    def start(self, joint_toml: str, file: str) -> Accepted:
        return self._ask(Accepted, "POST", "/v1/joint/start", StartCommand(joint_toml=joint_toml, file=file))

    def abort(self, reason: str) -> Accepted:
        return self._ask(Accepted, "POST", "/v1/joint/abort", AbortCommand(reason=reason))

    def claim(self, command: ClaimCommand) -> Accepted:
        return self._ask(Accepted, "POST", "/v1/joint/claim", command)

    def drag(self, pressure: str, by: str) -> Accepted:
        return self._ask(Accepted, "POST", "/v1/joint/drag", DragCommand(pressure=pressure, by=by))

    def bead(self, by: str) -> Accepted:
        return self._ask(Accepted, "POST", "/v1/joint/bead", BeadCommand(by=by))

    def which_record(self) -> RecordMessage:
        return self._ask(RecordMessage, "GET", "/v1/record", None)

    def correct(self, command: CorrectionCommand) -> Said:
        return self._ask(Said, "POST", "/v1/record/correction", command)

    def attach(self, command: AttachmentCommand) -> Said:
        return self._ask(Said, "POST", "/v1/record/attachment", command)

    def opine(self, command: OpinionCommand) -> Said:
        return self._ask(Said, "POST", "/v1/record/opinion", command)

    def take_over(self, command: ImportCommand) -> Imported:
        return self._ask(Imported, "POST", "/v1/record/import", command)

    def confirm_figures(self, command: FiguresCommand) -> Confirmed:
        return self._ask(Confirmed, "POST", "/v1/record/figures", command)

    def renew_key(self, command: KeyRenewalCommand) -> RenewedKey:
        return self._ask(RenewedKey, "POST", "/v1/record/key", command)

    def _ask(self, model: type[Message], method: str, path: str, body: BaseModel | None) -> Message:
        self._check_answers()
        try:
            answer = self._client.request(method, path, json=body.model_dump() if body else None)
        except httpx.HTTPError as error:
            raise DeviceError(f"no recorder answers on {self._socket}: {error}") from error
        if answer.is_success:
            return model.model_validate_json(answer.content)
        raise _refusal(answer)

    def _check_answers(self) -> None:
        """Refused connections are found out here: the client's transport would leave its socket open."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
            try:
                probe.connect(str(self._socket))
            except PermissionError as error:
                raise BarredError(barred(f"the recorder on {self._socket}", self._socket)) from error
            except OSError as error:
                raise NoRecorderError(
                    f"no recorder answers on {self._socket}: {error.strerror or error}"
                ) from error


def _refusal(answer: httpx.Response) -> BeadwatchError:
    try:
        refused = Refused.model_validate_json(answer.content)
    except ValueError:
        return DeviceError(f"the recorder answered {answer.status_code}: {answer.text[:200]}")
    if refused.code:
        return ProcedureRefusal(refused.code, refused.parameters)
    if answer.status_code == httpx.codes.UNPROCESSABLE_ENTITY:
        return InputError(refused.message)
    return (
        StoreError(refused.message) if refused.error == StoreError.__name__ else DeviceError(refused.message)
    )
