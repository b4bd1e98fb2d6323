"""Boundaries as detected and as marked by hand, side by side. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.domain.phase import PHASES, Phase
from logger.wire.desk import StatementModel
from logger.wording.hand_text import boundary_name
from tui.axes import PhaseTimes
from tui.catalogue import tr
from tui.numbers import number

COOLING_END = "cooling_end"
BOUNDARIES: tuple[str, ...] = (*(phase.value for phase in PHASES), COOLING_END)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundaryRow:
    """One boundary, s on the joint's clock: what was detected, None where nothing was, and every mark."""

    key: str
    detected_s: float | None
    marks: tuple[StatementModel, ...]

    @property
    def known_s(self) -> float | None:
        """Something to count from: what was detected, else the last mark."""
        if self.detected_s is not None or not self.marks:
            return self.detected_s
        return float(self.marks[-1].body["at_s"])


def boundary_rows(phases: PhaseTimes, marks: Sequence[StatementModel]) -> tuple[BoundaryRow, ...]:
    """All boundaries in order; the last start of a phase governs where it began more than once."""
    detected: dict[str, float | None] = {phase.value: start_s for phase, start_s, _ in phases}
    detected[COOLING_END] = next(
        (end_s for phase, _, end_s in reversed(phases) if phase is Phase.COOLING), None
    )
    return tuple(
        BoundaryRow(
            key=key,
            detected_s=detected.get(key),
            marks=tuple(mark for mark in marks if mark.body.get("boundary") == key),
        )
        for key in BOUNDARIES
    )


def row_text(row: BoundaryRow) -> str:
    """One line: name, detected, marked with how, by whom and with what uncertainty."""
    detected = tr("not detected")
    if row.detected_s is not None:
        detected = tr("detected {at} s", at=number(row.detected_s, 1))
    hows = {"curve": tr("on the curve"), "stop_watch": tr("by stop watch")}
    marks = [
        tr(
            "marked by hand {at} s, u = {u} s, {how}, {name}",
            at=number(mark.body["at_s"], 1), u=number(mark.body["u_s"], 1),
            how=hows.get(mark.body["how"], ""), name=mark.author,
        )
        for mark in row.marks
    ]  # fmt: skip
    return f"{boundary_name(row.key)}: {'; '.join([detected, *marks])}"
