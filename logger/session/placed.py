"""Where the phases of a joint in progress began, as far as is known, and the time that counts from there.

Least times (soak, cooling) count from the late edge of the start's interval and greatest times (changeover,
build-up) from the early edge. The late edge never moves back: a revision never makes a countdown that was
followed to its end too short.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from logger.domain.judgement import Boundary
from logger.domain.phase import Phase
from logger.domain.place_error import half_interval

EARLY_S: dict[Phase, float] = {Phase.CHANGEOVER: 0.5, Phase.PRESSURE_BUILD_UP: 1.5}
EARLY_OTHERS_S = 2.0
"""How much earlier than it was called a boundary may have been before it is fitted: choices."""
SAME_S = 0.02
"""A fit that moves a boundary or its uncertainty by less is no revision."""
ASTRAY_S = 10.0
"""A fit that far from what was seen is of something else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """The start of one phase. `called_s` is the tracker's; `at_s`, once fitted, the fit's with its `u_s`.

    `unsure` is the reason why the boundary was not seen, empty where it was.
    """

    called_s: float
    at_s: float
    early_s: float
    late_s: float
    u_s: float | None = None
    unsure: str = ""


def called(phase: Phase, at_s: float, seen_at_s: float) -> Placed:
    """A start as the tracker calls it: no later than it was recognised."""
    early_s = at_s - EARLY_S.get(phase, EARLY_OTHERS_S)
    return Placed(called_s=at_s, at_s=at_s, early_s=early_s, late_s=max(at_s, seen_at_s))


def fitted(placed: Placed, fit: Boundary) -> Placed:
    """The start with what the fit says of it; the same value where that is nothing new."""
    if fit.at_s is None or fit.u_s is None:
        lost = fit.reason == "gap_over_boundary" and placed.u_s is None
        return replace(placed, unsure=fit.reason) if lost else placed
    if abs(fit.at_s - placed.called_s) > ASTRAY_S:
        return placed
    known = placed.u_s is not None and abs(fit.u_s - placed.u_s) < SAME_S
    if known and abs(fit.at_s - placed.at_s) < SAME_S:
        return placed
    return replace(
        placed,
        at_s=fit.at_s,
        early_s=fit.at_s - half_interval(fit.u_s),
        late_s=max(placed.late_s, fit.at_s + half_interval(fit.u_s)),
        u_s=fit.u_s,
        unsure="",
    )


Starts = Mapping[Phase, Placed]


def is_in_order(starts: Starts) -> bool:
    """Whether the phases begin one after the other, up to what their intervals allow."""
    placed = [starts[phase] for phase in Phase if phase in starts]
    return all(
        before.early_s <= after.late_s and before.at_s <= after.at_s for before, after in pairwise(placed)
    )
