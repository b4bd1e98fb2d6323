"""What a joint's progress brings forth: values that the shell stores, publishes and prints."""

from dataclasses import dataclass

from logger.domain.judgement import Judgement
from logger.domain.phase import Phase


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseChanged:
    """The live, provisional phase changed. None stands for preparation, or for after the release.

    `at_s` is when what caused it began, `seen_at_s` when it was recognised; `withdrawn` says that the phase
    before was called in error.
    """

    before: Phase | None
    after: Phase | None
    cause: str
    at_s: float
    seen_at_s: float
    withdrawn: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class JointEnded:
    """The joint is over, with the judgement of its whole curve. `how` is finished, aborted or interrupted."""

    how: str
    reason: str
    judgement: Judgement


Event = PhaseChanged | JointEnded
