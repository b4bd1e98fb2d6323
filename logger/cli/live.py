"""`beadwatch start`, `abort`, `state`: the running recorder."""

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, out_text
from logger.cli.link import Link
from logger.cli.places import default_socket
from logger.config.folders import procedure_folders
from logger.config.joint_file import load_joint
from logger.config.procedures import available_procedures
from logger.domain.place_error import half_interval
from logger.wire.live import LimitMessage, StateMessage
from logger.wording.check_text import QUALITIES

SocketOption = Annotated[Path | None, typer.Option(help="The recorder's local socket.", readable=False)]


def start(
    joint_file: Annotated[Path, typer.Argument(metavar="JOINT.toml", help="The joint as entered.")],
    socket: SocketOption = None,
) -> None:
    """Open a joint on the running recorder."""
    load_joint(joint_file, available_procedures(procedure_folders()))
    with closing(Link(socket or default_socket())) as link:
        accepted = link.start(joint_file.read_text(encoding="utf-8-sig"), str(joint_file))
    out([f"{accepted.joint_uuid} attempt {accepted.attempt}"])


def abort(
    reason: Annotated[str, typer.Option(help="Why, for the record.")],
    socket: SocketOption = None,
) -> None:
    """Break the open joint off; what was recorded stays."""
    with closing(Link(socket or default_socket())) as link:
        accepted = link.abort(reason)
    out([accepted.joint_uuid])


def drag(
    pressure: Annotated[str, typer.Argument(help='Gauge pressure with its unit: "12 bar".')],
    by: Annotated[str, typer.Option(help="Who measured it.")],
    socket: SocketOption = None,
) -> None:
    """Confirm the drag measured for the open joint: its plan follows it."""
    with closing(Link(socket or default_socket())) as link:
        accepted = link.drag(pressure, by)
    out([accepted.joint_uuid])


def bead(
    by: Annotated[str, typer.Option(help="Who saw the bead all round, on both sides.")],
    socket: SocketOption = None,
) -> None:
    """Say that the bead stands all round."""
    with closing(Link(socket or default_socket())) as link:
        accepted = link.bead(by)
    out([accepted.joint_uuid])


def state(
    socket: SocketOption = None,
    json: Annotated[bool, typer.Option("--json", help="Print the state as JSON.")] = False,
) -> None:
    """Say what the running recorder sees."""
    with closing(Link(socket or default_socket())) as link:
        message = link.state()
    if json:
        out_text(message.model_dump_json() + "\n")
    else:
        out(_lines(message))


def _lines(message: StateMessage) -> list[str]:
    joint = message.joint or ("without a name" if message.joint_uuid else "none open")
    lines = [
        f"rig {message.rig} ({message.origin}, time scale {message.time_scale:g})",
        f"joint {joint}, {_phase_line(message)}",
        *(_limit_line(limit) for limit in message.limits),
        *(f"ALARM {alarm.code}: {alarm.text}" for alarm in message.alarms),
    ]
    for channel in message.channels:
        why = next((text for code, text in QUALITIES.items() if code == channel.quality), "")
        value = f"not used, {why}" if why else "no reading"
        if channel.value is not None:
            value = f"{channel.value:.2f} {channel.unit}"
        age = "" if channel.age_s is None else f", {channel.age_s:.1f} s old"
        lines.append(f"{channel.quantity}: {value} ({channel.state}{age})")
    store = message.store.error or "written"
    lines.append(f"record: {store}, {message.store.pending} pending, {message.store.dropped} dropped")
    return lines


def _phase_line(message: StateMessage) -> str:
    phase = f"phase {message.phase or 'preparation'}"
    if message.phase is not None and message.phase_since_s is not None:
        u_s = (
            "called, not fitted yet"
            if message.phase_u_s is None
            else f"± {half_interval(message.phase_u_s):.2f} s"
        )
        phase += f" since {message.phase_since_s:.2f} s ({u_s})"
    return f"{phase}; unsure ({message.unsure}): use gauge and watch" if message.unsure else phase


def _limit_line(limit: LimitMessage) -> str:
    """A planned time: a least time counts from the late edge of the start, a greatest one from the early."""
    kind = "at most" if limit.is_max else "at least"
    if limit.elapsed_s is None:
        return f"  {kind} {limit.limit_s:.1f} s: no figure"
    return f"  {kind} {limit.limit_s:.1f} s, {limit.elapsed_s:.1f} s gone"
