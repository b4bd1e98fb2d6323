"""What people marked and read by hand, beside what was detected and measured."""

from collections.abc import Iterator, Sequence

from logger.domain.phase import Phase
from logger.domain.record import Statement
from logger.wording.events import PHASE_NAMES
from logger.wording.language import figure, say

_HOW = {"curve": "on the curve", "stop_watch": "by stop watch"}
_SIDES = {"fixed": "fixed side", "moving": "moving side", "both": "both sides"}


def hand_lines(statements: Sequence[Statement]) -> Iterator[str]:
    """One line for each mark and each reading of the plate, in the order in which they were said."""
    for said in statements:
        if said.kind == "mark":
            yield _mark_line(said)
        elif said.kind == "plate_reading":
            yield _reading_line(said)


def boundary_name(key: str) -> str:
    """The start of the phase named, or the end of cooling."""
    if key not in set(Phase):
        return say("end of cooling")
    return say("start of {phase}", phase=say(PHASE_NAMES[Phase(key)]))


def _mark_line(said: Statement) -> str:
    body = said.body
    return say(
        "{boundary}: marked by hand {at:.1f} s, u = {u:.1f} s, {how}, {name}",
        boundary=boundary_name(str(body["boundary"])), at=float(body["at_s"]), u=float(body["u_s"]),
        how=say(_HOW.get(str(body["how"]), str(body["how"]))), name=said.author,
    )  # fmt: skip


def _reading_line(said: Statement) -> str:
    body = said.body
    text = say(
        "plate read by hand: {degC:.1f} degC, {side}, at {at:.1f} s, {instrument}, {name}",
        degC=float(body["temperature_degC"]), side=say(_SIDES.get(str(body["face"]), str(body["face"]))),
        at=float(body["taken_at_s"]), instrument=body["instrument"], name=said.author,
    )  # fmt: skip
    if "u_degC" not in body:
        return say("{reading}; no uncertainty declared: it decides nothing", reading=text)
    return say("{reading}; u = {u} degC", reading=text, u=figure(float(body["u_degC"]), ".3g"))
