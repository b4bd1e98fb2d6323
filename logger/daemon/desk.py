"""What people do and say at the recorder: joints opened and ended, readings, marks, looks, sign-off.

Everything said is a statement with author and time, appended to the record; nothing said changes a verdict.
"""

from collections.abc import Mapping
from typing import Any

from logger.api.faults import FieldsError
from logger.config.quantity import LENGTH, PRESSURE, ROD, TEMPERATURE, Kind, parse_quantity
from logger.daemon.archive import Archive
from logger.daemon.checklist import PREPARATION, checklist_of
from logger.daemon.clock import MachineClock
from logger.daemon.pick_lists import choices_of
from logger.daemon.plan_answer import plan_answer_of
from logger.daemon.recorder import Recorder
from logger.daemon.sayings import Sayings, difference_of, value_of, wrong
from logger.daemon.second_ambient import second_ambient
from logger.daemon.statements import AMBIENT, PLATE_READING, hand_readings
from logger.daemon.typed_entry import typed
from logger.domain.checklist import CHECKLIST
from logger.domain.joint_query import JointQuery
from logger.domain.judgement import Verdict
from logger.domain.rig import Rig
from logger.errors import DeviceError
from logger.store.writer import Writer
from logger.wire.desk import (
    AmbientAnswer,
    AmbientCommand,
    BeadCommand,
    ChecklistMessage,
    ClampsOpenedCommand,
    DragCommand,
    MarkCommand,
    PlateReadingCommand,
    PreparationCommand,
    RemarkCommand,
    Said,
    SignOffCommand,
    StartBody,
    VisualCommand,
)
from logger.wire.entry import ChoicesMessage, JointEntry, PlanAnswer
from logger.wire.live import Accepted, ClaimCommand, FieldError, StartCommand
from logger.wire.plan import plan_to_json

SIGN_OFF = "sign_off"
_RECENT = 50
"""Joints that names and the last pipe are taken from."""
_UNITS: Mapping[str, Kind] = {"mm": ROD, "bar": PRESSURE, "degC": TEMPERATURE}
_UNIT_OF = {check.code: check.unit for check in CHECKLIST}


class Desk:
    """Raises InputError, ProcedureRefusal, DeviceError or StoreError; then nothing was done."""

    def __init__(
        self, recorder: Recorder, rig: Rig, archive: Archive, writer: Writer, clock: MachineClock
    ) -> None:
        self._recorder = recorder
        self._rig = rig
        self._archive = archive
        self._clock = clock
        self._sayings = Sayings(recorder, archive, writer, clock)

    async def plan_answer(self, entry: JointEntry) -> PlanAnswer:
        found = typed(entry, self._rig)
        attempt = await self._archive.next_attempt(entry.joint.strip(), entry.project.strip())
        return plan_answer_of(found, attempt)

    async def choices(self) -> ChoicesMessage:
        return choices_of(await self._archive.records(JointQuery(limit=_RECENT)))

    async def checklist(self) -> ChecklistMessage:
        record = self._recorder.open_record
        if record is None:
            return checklist_of(None, None, ())
        statements = await self._archive.statements(record.uuid)
        return checklist_of(record.uuid, record.session.setting.plan, statements)

    async def start(self, body: StartBody) -> Accepted:
        if isinstance(body, StartCommand):
            return await self._recorder.start_joint(body.joint_toml, body.file)
        entry = body.entry
        found = typed(entry, self._rig)
        if found.refusal is not None:
            raise found.refusal
        needed = tuple(FieldError(field=name, message="is needed") for name in found.missing)
        if found.joint_toml is None:
            raise FieldsError((*found.errors, *needed))
        accepted = await self._recorder.start_joint(found.joint_toml, "entry")
        if entry.ambient_temperature and entry.ambient_instrument:
            ambient_degC = parse_quantity(entry.ambient_temperature, TEMPERATURE)
            body_said = {"temperature_degC": ambient_degC, "instrument": entry.ambient_instrument}
            await self._sayings.of(accepted.joint_uuid, AMBIENT, entry.operator, body_said, at_s=0.0)
        return accepted

    async def abort(self, reason: str) -> Accepted:
        return await self._recorder.abort_joint(reason)

    async def claim(self, command: ClaimCommand) -> Accepted:
        return await self._recorder.claim_joint(command)

    async def drag(self, command: DragCommand) -> Accepted:
        pressure_bar = value_of(command.pressure, PRESSURE, "pressure")
        self._sayings.open_record()
        return await self._recorder.confirm_drag(pressure_bar, command.by)

    async def bead(self, command: BeadCommand) -> Accepted:
        self._sayings.open_record()
        return await self._recorder.confirm_bead(command.by)

    async def preparation(self, command: PreparationCommand) -> Said:
        unit = _UNIT_OF[command.item]
        body: dict[str, Any] = {"item": command.item, "answer": command.answer}
        if command.value and not unit:
            raise wrong("value", "this item has no value")
        if command.value:
            body |= {"value": value_of(command.value, _UNITS[unit], "value"), "unit": unit}
        if command.instrument:
            body["instrument"] = command.instrument
        if command.answer == "skipped" and not command.reason:
            raise wrong("reason", "what is skipped needs its reason")
        return await self._sayings.of_open(PREPARATION, command.by, body, reason=command.reason)

    async def ambient(self, command: AmbientCommand) -> AmbientAnswer:
        ambient_degC = value_of(command.temperature, TEMPERATURE, "temperature")
        record = self._sayings.open_record()
        body: dict[str, Any] = {"temperature_degC": ambient_degC, "instrument": command.instrument}
        again = second_ambient(record, ambient_degC)
        if again.plan is not None:
            body["plan_json"] = plan_to_json(again.plan)
        said = await self._sayings.of_open(AMBIENT, command.by, body)
        again.govern(record)
        return AmbientAnswer(joint_uuid=said.joint_uuid, seq=said.seq, **again.cooling_times)

    async def plate_reading(self, command: PlateReadingCommand) -> Said:
        body: dict[str, Any] = {
            "temperature_degC": value_of(command.temperature, TEMPERATURE, "temperature"),
            "instrument": command.instrument,
            "face": command.face,
            "taken_at_s": self._recorder.now_s() - command.taken_s_ago * self._clock.time_scale,
        }
        if command.uncertainty:
            body["u_degC"] = difference_of(command.uncertainty, TEMPERATURE, "uncertainty")
        record = self._sayings.open_record()
        said = await self._sayings.of_open(PLATE_READING, command.by, body)
        record.take_hand_readings(hand_readings(await self._archive.statements(record.uuid)))
        return said

    async def mark(self, command: MarkCommand) -> Said:
        body = {"boundary": command.boundary, "at_s": command.at_s, "u_s": command.u_s, "how": command.how}
        if self._sayings.is_of_open(command.joint_uuid) and command.at_s > self._recorder.now_s():
            raise wrong("at_s", "lies ahead of now on the joint's clock")
        return await self._sayings.about(command.joint_uuid, "mark", command.by, body)

    async def clamps_opened(self, command: ClampsOpenedCommand) -> Said:
        """Of the open joint, or of the one named, or of the one that ended last."""
        joint_uuid = command.joint_uuid
        if not joint_uuid and self._recorder.open_record is None:
            joint_uuid = self._recorder.state().last_joint_uuid or ""
        return await self._sayings.about(joint_uuid, "clamps_opened", command.by, {})

    async def visual(self, joint_uuid: str, command: VisualCommand) -> Said:
        least_mm = value_of(command.bead_width_least, LENGTH, "bead_width_least")
        greatest_mm = value_of(command.bead_width_greatest, LENGTH, "bead_width_greatest")
        if greatest_mm < least_mm:
            raise wrong("bead_width_greatest", "is less than the least width")
        body = {
            "bead_width_least_mm": least_mm,
            "bead_width_greatest_mm": greatest_mm,
            "misalignment_mm": value_of(command.misalignment, ROD, "misalignment"),
            "notch": command.notch,
            "look": command.look,
            "is_accepted": command.is_accepted,
        }
        record = await self._sayings.ended(joint_uuid)
        return await self._sayings.of(record.header.uuid, "visual", command.by, body)

    async def remark(self, joint_uuid: str, command: RemarkCommand) -> Said:
        return await self._sayings.about(joint_uuid, "remark", command.by, {"text": command.text})

    async def sign_off(self, joint_uuid: str, command: SignOffCommand) -> Said:
        record = await self._sayings.ended(joint_uuid)
        if not command.is_number_marked:
            raise wrong("is_number_marked", "the number has to stand on the pipe before the joint is closed")
        if command.closed_as == "concession" and not command.concession_by.strip():
            raise wrong("concession_by", "a concession names the person who gives it")
        if record.verdict is Verdict.NONCONFORMING and command.closed_as == "made":
            raise wrong(
                "closed_as", "the curve is nonconforming: cut out, or a concession by a named person",
                nearest=("cut_out", "concession"),
            )  # fmt: skip
        earlier = [said for said in await self._archive.statements(joint_uuid) if said.kind == SIGN_OFF]
        if earlier:
            raise DeviceError(f"signed off already by {earlier[-1].author}, {earlier[-1].at.utc}")
        body = {
            "number": record.number,
            "is_number_marked": True,
            "closed_as": command.closed_as,
            "concession_by": command.concession_by.strip(),
            "verdict_of_curve": record.verdict,
        }
        return await self._sayings.of(joint_uuid, SIGN_OFF, command.by, body)
