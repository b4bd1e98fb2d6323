"""Errors as the interface answers them: one line of text, a status, and the fields at fault."""

from collections.abc import Iterable

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse

from logger.errors import BeadwatchError, InputError, ProcedureRefusal
from logger.wire.live import FieldError, Refused
from logger.wording.refusals import refusal_text

UNPROCESSABLE = 422
CONFLICT = 409


class FieldsError(InputError):
    """Fields of a command are wrong; `str()` names the first."""

    def __init__(self, fields: Iterable[FieldError]) -> None:
        self.fields = tuple(fields)
        first = self.fields[0]
        super().__init__(first.message, key=first.field)


def answer_errors(app: FastAPI) -> None:
    """Give errors raised on purpose, and bodies that do not fit, the shape of `Refused`."""

    @app.exception_handler(BeadwatchError)
    async def refused(_: Request, error: BeadwatchError) -> JSONResponse:
        status = UNPROCESSABLE if isinstance(error, InputError | ProcedureRefusal) else CONFLICT
        return JSONResponse(refused_of(error).model_dump(mode="json"), status_code=status)

    @app.exception_handler(RequestValidationError)
    async def unfit(_: Request, error: RequestValidationError) -> JSONResponse:
        fields = [
            FieldError(field=".".join(str(part) for part in fault["loc"][1:]), message=str(fault["msg"]))
            for fault in error.errors()
        ]
        return JSONResponse(
            refused_of(FieldsError(fields)).model_dump(mode="json"), status_code=UNPROCESSABLE
        )


def refused_of(error: BeadwatchError) -> Refused:
    if isinstance(error, ProcedureRefusal):
        return Refused(
            error=ProcedureRefusal.__name__,
            message=refusal_text(error),
            code=error.code,
            parameters=dict(error.parameters),
        )
    if isinstance(error, FieldsError):
        return Refused(error=InputError.__name__, message=str(error), fields=error.fields)
    return Refused(error=type(error).__name__, message=str(error))
