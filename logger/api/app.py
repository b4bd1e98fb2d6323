"""The recorder's local interface: start, abort, state; reading the rig is not to be had from here."""

from typing import Protocol

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse

from logger.errors import BeadwatchError, InputError, ProcedureRefusal
from logger.wire.live import AbortCommand, Accepted, ClaimCommand, Refused, StartCommand, StateMessage
from logger.wording.refusals import refusal_text


class RecorderPort(Protocol):
    """What the interface needs of the recorder."""

    async def start_joint(self, joint_toml: str, file: str) -> Accepted: ...

    async def abort_joint(self, reason: str) -> Accepted: ...

    async def claim_joint(self, claim: ClaimCommand) -> Accepted: ...

    def state(self, since_seq: int) -> StateMessage: ...


def app_of(recorder: RecorderPort, version: str) -> FastAPI:
    """Build the application around a running recorder."""
    app = FastAPI(title="Beadwatch recorder", version=version, docs_url=None, redoc_url=None)

    @app.exception_handler(BeadwatchError)
    async def refused(_: Request, error: BeadwatchError) -> JSONResponse:
        status = 422 if isinstance(error, InputError | ProcedureRefusal) else 409
        return JSONResponse(_refused(error).model_dump(), status_code=status)

    @app.get("/v1/state")
    async def state(since: int = 0) -> StateMessage:
        return recorder.state(since)

    @app.post("/v1/joint/start")
    async def start(command: StartCommand) -> Accepted:
        return await recorder.start_joint(command.joint_toml, command.file)

    @app.post("/v1/joint/abort")
    async def abort(command: AbortCommand) -> Accepted:
        return await recorder.abort_joint(command.reason)

    @app.post("/v1/joint/claim")
    async def claim(command: ClaimCommand) -> Accepted:
        return await recorder.claim_joint(command)

    return app


def _refused(error: BeadwatchError) -> Refused:
    kind = type(error).__name__
    if isinstance(error, ProcedureRefusal):
        parameters = dict(error.parameters)
        return Refused(error=kind, message=refusal_text(error), code=error.code, parameters=parameters)
    return Refused(error=kind, message=str(error))
