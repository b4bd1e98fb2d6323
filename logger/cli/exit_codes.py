"""Exit codes of every command."""

from enum import IntEnum

from logger.domain.judgement import Verdict
from logger.errors import BeadwatchError, DeviceError, InputError, ProcedureRefusal, StoreError


class ExitCode(IntEnum):
    """What the number says."""

    OK = 0
    """Done; for `judge` and `rejudge`: conforming."""
    UNEXPECTED_VERDICT = 1
    """`demo`: the verdict is not the one the scenario expects."""
    USAGE = 2
    """The command line is wrong."""
    BAD_INPUT = 3
    """A file or value is wrong."""
    REFUSED = 4
    """The procedure does not cover this joint."""
    DEVICE_OR_STORE = 5
    """A device, port, socket or the record failed."""
    NONCONFORMING = 10
    UNDECIDED = 11
    INTERNAL = 70
    """A defect of Beadwatch."""


EXIT_OF_VERDICT: dict[Verdict, ExitCode] = {
    Verdict.CONFORMING: ExitCode.OK,
    Verdict.NONCONFORMING: ExitCode.NONCONFORMING,
    Verdict.UNDECIDED: ExitCode.UNDECIDED,
}


def exit_code_for(error: BeadwatchError) -> ExitCode:
    """The exit code that an error raised on purpose leads to."""
    match error:
        case InputError():
            return ExitCode.BAD_INPUT
        case ProcedureRefusal():
            return ExitCode.REFUSED
        case DeviceError() | StoreError():
            return ExitCode.DEVICE_OR_STORE
        case _:
            return ExitCode.INTERNAL
