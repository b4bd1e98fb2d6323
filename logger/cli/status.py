"""`beadwatch status`: recorder, record, links, last joint, calibrations and forwarder in a dozen lines."""

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.barred import barred, is_barred
from logger.cli.console import out
from logger.cli.link import BarredError, Link, NoRecorderError
from logger.cli.live import SocketOption
from logger.cli.places import default_rig, default_socket, default_store
from logger.config.rig_file import load_rig
from logger.daemon.clock import MachineClock
from logger.domain.channel import Quantity
from logger.domain.forward_status import as_seen
from logger.domain.wiring import WiringCode, wiring_remarks
from logger.errors import DeviceError, InputError
from logger.forward.outbox import outbox_path, statuses_of
from logger.store.reader import Reader
from logger.wire.live import StateMessage
from logger.wording.check_text import remark_lines
from logger.wording.forward_text import status_lines
from logger.wording.plate_text import surface_line

_GOOD = ("present", "ended")


def status(
    rig_file: Annotated[
        Path | None, typer.Argument(metavar="[RIG.toml]", help="Its usual places where none is named.")
    ] = None,
    store: Annotated[Path | None, typer.Option(help="The record.", readable=False)] = None,
    socket: SocketOption = None,
) -> None:
    """Say whether all is well; exit code 5 where the recorder, its record or a channel is not."""
    path = store or default_store()
    answer = _answer(socket or default_socket())
    out(_recorder_lines(answer) if isinstance(answer, StateMessage) else [_row("recorder", _silence(answer))])
    out(_record_lines(path))
    out(_calibration_lines(rig_file))
    out(_forward_lines(path))
    if isinstance(answer, NoRecorderError):
        raise DeviceError("no recorder runs here")
    if isinstance(answer, DeviceError):
        raise answer
    state = answer
    bad = [channel.quantity for channel in state.channels if channel.state not in _GOOD]
    if bad or state.store.error:
        raise DeviceError("not well: " + ", ".join(["the record"] * bool(state.store.error) + bad))


def _answer(socket: Path) -> StateMessage | DeviceError:
    with closing(Link(socket)) as link:
        try:
            return link.state()
        except DeviceError as error:
            return error


def _silence(error: DeviceError) -> str:
    match error:
        case NoRecorderError():
            return "not running"
        case BarredError():
            return "another user's, or out of reach"
        case _:
            return "there, but does not answer"


def _record_lines(store: Path) -> list[str]:
    if is_barred(store):
        return [_row("record", barred(str(store), store))]
    if not store.exists():
        return [_row("record", f"no record yet at {store}")]
    with Reader(store) as reader:
        last_run, joints = reader.last_run(), reader.list_joints(limit=1)
    lines = [_row("record", f"{store}, {store.stat().st_size / 1e6:.1f} MB")]
    if joints:
        joint = joints[0]
        verdict = joint.verdict or ("open" if joint.end is None else "no verdict")
        name = joint.number or "without a name"
        lines.append(_row("last joint", f"{name}, opened {joint.header.opened.utc}: {verdict}"))
    if last_run is not None and last_run.ended is not None:
        lines.append(_row("last run", f"last run ended: {last_run.end_reason}, {last_run.ended.utc}"))
    return lines


def _calibration_lines(rig_file: Path | None) -> list[str]:
    try:
        installation = load_rig(rig_file or default_rig())
    except InputError as error:
        return [_row("rig file", str(error))]
    today = MachineClock().utc().date().isoformat()
    overdue = [
        one for one in wiring_remarks(installation, today) if one.code is WiringCode.CALIBRATION_OVERDUE
    ]
    has_plate = installation.rig.channel_of(Quantity.PLATE_TEMPERATURE) is not None
    surface = [_row("plate", surface_line(installation.rig.plate_surface, today))] if has_plate else []
    dues = sorted(c.calibration_due for c in installation.rig.channels if c.calibration_due)
    lines = [_row("calibration", f"next due {dues[0]}" if dues else "no due date is given")]
    return [*([_row("calibration", text) for text in remark_lines(overdue)] or lines), *surface]


def _forward_lines(store: Path) -> list[str]:
    if is_barred(outbox_path(store)):
        return [_row("forward", f"{outbox_path(store)} may not be read")]
    now = MachineClock().utc()
    told = [as_seen(one, now) for one in statuses_of(outbox_path(store))]
    lines = [_row("forward", line) for one in told for line in status_lines(one.target, one)]
    return lines or [_row("forward", "no forwarder has run here")]


def _recorder_lines(state: StateMessage) -> list[str]:
    joint = state.joint or ("a joint without a name" if state.joint_uuid else "no joint open")
    kept = state.store.error or "written"
    return [
        _row("recorder", f"running on {state.rig} ({state.origin}), {joint}"),
        *(_row("ALARM", f"{alarm.code}: {alarm.text}") for alarm in state.alarms),
        *(_row("channel", f"{one.quantity}: {one.state}, {one.quality}") for one in state.channels),
        _row("writing", f"{kept}, {state.store.pending} waiting, {state.store.dropped} dropped"),
    ]


def _row(label: str, text: str) -> str:
    return f"{label:<13}{text}"
