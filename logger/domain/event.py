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
class BoundaryRevised:
    """The fit that judges has placed a boundary that was called before, or placed it again with more to see.

    `edge` is "start" or "end" of `phase`. `to_s` and `u_s` are None where the fit found that the boundary was
    not seen, with the `reason`.
    """

    phase: Phase
    edge: str
    from_s: float
    to_s: float | None
    u_s: float | None
    seen_at_s: float
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DragOffered:
    """A slow steady closing stroke has shown a drag: an offer, never taken over without a person's word.

    Gauge bar: `pressure_bar` is the plateau, `spread_bar` the width of its middle 80 %, `breakaway_bar` the
    peak that set the carriage moving, None where there was none. `is_closing_seen` is False where no carriage
    position tells a closing stroke from an opening one.
    """

    pressure_bar: float
    spread_bar: float
    breakaway_bar: float | None
    at_s: float
    seen_at_s: float
    is_closing_seen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DragWithdrawn:
    """The drag offered before no longer counts: facing, or another long pressing, followed it."""

    pressure_bar: float
    at_s: float
    seen_at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DragConfirmed:
    """A person gave the drag of this joint; the plan follows it from here on.

    `offered_bar` is the drag that was on offer, None without one; `phase` the live phase at that time.
    """

    pressure_bar: float
    by: str
    at_s: float
    offered_bar: float | None
    phase: Phase | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadConfirmed:
    """A person saw the bead all round, on both sides."""

    by: str
    at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadNotConfirmed:
    """The joint is over, its plate was left at `at_s`, and nobody had said that the bead stood all round."""

    at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointEnded:
    """The joint is over, with the judgement of its whole curve. `how` is finished, aborted or interrupted."""

    how: str
    reason: str
    judgement: Judgement


Event = (
    PhaseChanged
    | BoundaryRevised
    | DragOffered
    | DragWithdrawn
    | DragConfirmed
    | BeadConfirmed
    | BeadNotConfirmed
    | JointEnded
)
