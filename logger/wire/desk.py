"""What people say about a joint: bodies of the commands, and the statements as they are kept.

Quantities are text with a unit ("0.3 mm", "18 degC", "150 psi"); the record keeps their value in the unit of
its name.
"""

from typing import Annotated, Any, Literal

from pydantic import Field

from logger.domain.checklist import CheckCode
from logger.wire.entry import JointEntry
from logger.wire.live import StartCommand
from logger.wire.model import WireMessage, WireModel
from logger.wire.plan import BandModel

Name = Annotated[str, Field(min_length=1, max_length=100)]
Text = Annotated[str, Field(max_length=2000)]
Typed = Annotated[str, Field(max_length=40)]

REACTION_U_S = 0.3
"""Standard uncertainty of a boundary marked by hand where none is given: a choice. Seeing, deciding and
pressing takes a person some tenths of a second, and nobody measured this one."""


class OpenCommand(WireModel):
    """Open a joint from its fields as typed; a joint.toml as text goes with `StartCommand`."""

    entry: JointEntry


StartBody = StartCommand | OpenCommand


class DragCommand(WireModel):
    """Confirm the drag of this joint; `is_offered` says that it is the one read off the trace."""

    pressure: Typed
    is_offered: bool = False
    by: Name


class BeadCommand(WireModel):
    """The bead was seen all round both ends."""

    by: Name


class PreparationCommand(WireModel):
    """One item of the checklist, done or skipped; a later statement about the same item governs."""

    item: CheckCode
    answer: Literal["done", "skipped"]
    value: Typed = ""
    instrument: Text = ""
    reason: Text = ""
    by: Name


class AmbientCommand(WireModel):
    """Ambient temperature taken at the joint, inside the shelter."""

    temperature: Typed
    instrument: Name
    by: Name


class PlateReadingCommand(WireModel):
    """Surface temperature of the plate read by hand, `taken_s_ago` seconds before now.

    `uncertainty` is the standard uncertainty of the instrument ("1.5 degC"). A reading without one decides
    nothing; with one it is judged where the rig has no plate sensor.
    """

    temperature: Typed
    uncertainty: Typed = ""
    instrument: Name
    face: Literal["fixed", "moving", "both"]
    taken_s_ago: Annotated[float, Field(ge=0, le=3600)] = 0.0
    by: Name


BoundaryKey = Literal["bead_up", "heat_soak", "changeover", "pressure_build_up", "cooling", "cooling_end"]


class MarkCommand(WireModel):
    """Where a boundary lies by a person's eye or watch: the start of the phase named, or the end of cooling.

    `at_s` is on the joint's own clock. Detected and marked stand side by side; a mark changes no verdict.
    """

    joint_uuid: str = ""
    boundary: BoundaryKey
    at_s: Annotated[float, Field(ge=0)]
    u_s: Annotated[float, Field(gt=0, le=60)] = REACTION_U_S
    how: Literal["curve", "stop_watch"]
    by: Name


class ClampsOpenedCommand(WireModel):
    """The clamps were opened now."""

    joint_uuid: str = ""
    by: Name


class VisualCommand(WireModel):
    """The joint as a named person saw it."""

    bead_width_least: Typed
    bead_width_greatest: Typed
    misalignment: Typed
    notch: Literal["not_to_the_surface", "to_the_surface", "not_examined"]
    """How deep the notch between the beads goes: at the pipe's surface or below it is a fault of the bead."""
    look: Text
    is_accepted: bool
    by: Name


class RemarkCommand(WireModel):
    text: Annotated[str, Field(min_length=1, max_length=2000)]
    by: Name


class SignOffCommand(WireModel):
    """The joint is closed: its number stands on the pipe.

    A joint whose curve is nonconforming closes only as cut out, or by the concession of a named person.
    """

    is_number_marked: bool
    closed_as: Literal["made", "cut_out", "concession"] = "made"
    concession_by: Text = ""
    by: Name


class StatementModel(WireModel):
    """One statement as kept; `at_s` is on the joint's own clock, null when it was not open."""

    seq: int
    kind: str
    author: str
    reason: str
    at_utc: str
    at_s: float | None
    body: dict[str, Any]


class Said(WireModel):
    """The statement was stored under this number."""

    joint_uuid: str
    seq: int


class AmbientAnswer(WireModel):
    """The reading was stored. The cooling time planned, the one for this reading, and the longer: it governs.

    Null where the procedure's cooling time does not depend on it or no plan is there.
    """

    joint_uuid: str
    seq: int
    planned_cooling_s: float | None
    read_cooling_s: float | None
    governing_cooling_s: float | None


class CheckModel(WireModel):
    """One item: its text, limit, source, cautions where the hand goes near, and what was said of it."""

    item: CheckCode
    text: str
    unit: str
    """Of the limit and of the value to be entered; empty where there is none."""
    limit: BandModel | None
    source: str
    mark: str
    cautions: tuple[str, ...]
    """Codes; a screen shows their text beside the item."""
    said: StatementModel | None


class ChecklistMessage(WireMessage):
    """The preparation of the open joint, in the order of the work."""

    schema_: Literal["beadwatch.checklist/1"] = Field(default="beadwatch.checklist/1", alias="schema")
    joint_uuid: str | None
    checks: tuple[CheckModel, ...]
