"""`beadwatch check`: is this rig file right, can its buses carry it, and does the rig do what it says?"""

import asyncio
import logging
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from logger.acquire.grouping import requests_of
from logger.acquire.registry import driver_of
from logger.acquire.watching import watched
from logger.cli.bus_options import SocketOption
from logger.cli.console import out, say
from logger.cli.idle import refuse_while_recording
from logger.cli.live_check import channel_checks, link_checks, shortest_limits
from logger.cli.plan import planned
from logger.config.dimensions import standard_pipes
from logger.config.folders import procedure_folders
from logger.config.procedures import available_procedures
from logger.config.rig_file import load_rig
from logger.config.rtu_budget import loads_of
from logger.daemon.clock import MachineClock
from logger.domain.bus import Installation, OwnDriverBus, ReplayBus
from logger.domain.channel import Channel, Quantity
from logger.domain.live_check import Acuity, ChannelCheck
from logger.domain.rig import Rig
from logger.domain.wiring import wiring_remarks
from logger.errors import DeviceError
from logger.plan.decidable import decidable_limits
from logger.wording.check_text import (
    channel_lines,
    counted,
    limit_lines,
    link_lines,
    load_lines,
    paced_lines,
    remark_lines,
    signal_lines,
)
from logger.wording.decidable_text import decidable_lines
from logger.wording.integrator_text import FITTING_CAUTIONS


def check(
    rig_file: Annotated[Path, typer.Argument(metavar="RIG.toml", help="The rig and its wiring.")],
    live: Annotated[bool, typer.Option("--live", help="Read the rig for a while and measure.")] = False,
    seconds: Annotated[float, typer.Option(min=1.0, max=3600.0, help="With --live: for how long.")] = 10.0,
    joint_file: Annotated[
        Path | None,
        typer.Option("--joint", metavar="JOINT.toml", help="Which limits of this joint it can decide."),
    ] = None,
    socket: SocketOption = None,
) -> None:
    """Check a rig file: keys, overlaps, units, rates, the load of each bus; with --live the rig itself."""
    installation = load_rig(rig_file)
    rig = installation.rig
    clock = MachineClock()
    _check_files(installation, clock)
    wiring = f"{counted(len(rig.channels), 'channel')} on {counted(len(installation.buses), 'bus')}"
    out([f"{rig_file}: {rig.name}, {wiring}", ""])
    out(channel_lines(installation.bindings))
    out(["", "Load", *load_lines(loads_of(installation)), *paced_lines(installation.buses)])
    remarks = remark_lines(wiring_remarks(installation, clock.utc().date().isoformat()))
    out(["", "Remarks", *(remarks or ["none"])])
    checks = _watch(installation, seconds, socket, clock) if live else []
    _say_what_suffices(rig, checks, None if joint_file is None else (joint_file, rig_file))
    if live and any(check.measure.rate_hz is None for check in checks):
        raise DeviceError("not every channel gave enough samples; see above")
    if live:
        say(f"next: beadwatch calibrate {rig_file} (--help); then beadwatch commission {rig_file} --by NAME")
    else:
        say(f"next: beadwatch check {rig_file} --live")


def _check_files(installation: Installation, clock: MachineClock) -> None:
    """Read the files that a rig file names now: where one is wrong the rig file is wrong too."""
    for bus in installation.buses:
        if isinstance(bus, ReplayBus | OwnDriverBus):
            driver_of(bus, requests_of(bus, installation.bindings), clock)


def _watch(
    installation: Installation, seconds: float, socket: Path | None, clock: MachineClock
) -> list[ChannelCheck]:
    refuse_while_recording(socket, "check --live")
    say("\n".join(FITTING_CAUTIONS))
    say(
        f"reading {installation.rig.name} for {seconds:g} s: carriage at rest, everyone clear; with the pump "
        "running the ripple shows too"
    )
    logging.getLogger("logger.acquire").setLevel(logging.ERROR)  # What was lost is counted below.
    watch = asyncio.run(watched(installation, clock, seconds))
    checks = channel_checks(watch, installation.rig)
    out(["", "Links", *link_lines(link_checks(watch)), "", "Signals", *signal_lines(checks)])
    return checks


def _say_what_suffices(rig: Rig, checks: list[ChannelCheck], files: tuple[Path, Path] | None) -> None:
    pressure = rig.channel_of(Quantity.PRESSURE)
    if pressure is None:
        return
    acuity = _acuity_of(pressure, checks, rig.piston_area_mm2)
    procedures = tuple(available_procedures(procedure_folders()).values())
    limits = shortest_limits(procedures, tuple(standard_pipes()))
    is_measured = acuity.spread_bar is not None
    out(["", "Shortest limits", *limit_lines(limits, acuity, is_measured=is_measured)])
    if files is not None:
        seen = replace(rig, channels=tuple(_as_measured(channel, checks) for channel in rig.channels))
        plan = planned(*files).plan
        out(["", "What this rig and its sensors can decide", *decidable_lines(decidable_limits(plan, seen))])


def _acuity_of(pressure: Channel, checks: list[ChannelCheck], piston_area_mm2: float | None) -> Acuity:
    measure = next((check.measure for check in checks if check.channel is pressure), None)
    if measure is None or measure.rate_hz is None:
        return Acuity(rate_hz=pressure.rate_hz, piston_area_mm2=piston_area_mm2)
    return Acuity(
        rate_hz=measure.rate_hz,
        spread_bar=measure.spread,
        resolution_bar=measure.effective_resolution(pressure.resolution),
        piston_area_mm2=piston_area_mm2,
    )


def _as_measured(channel: Channel, checks: list[ChannelCheck]) -> Channel:
    """Return a channel at the rate that was measured, its step as coarse as what was seen."""
    for check in checks:
        measure = check.measure
        if check.channel is channel and measure.rate_hz is not None:
            step = max(channel.resolution, measure.step or 0.0)
            return replace(channel, rate_hz=measure.rate_hz, resolution=step)
    return channel
