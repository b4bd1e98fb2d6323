"""`beadwatch calibrate`: a channel against a reference, two or more points, and a history that only grows."""

import asyncio
import logging
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Annotated

import typer

from logger.acquire.watching import watched
from logger.cli.bus_options import SocketOption
from logger.cli.calibration_history import append_calibration, calibrations
from logger.cli.console import ask, out, say
from logger.cli.idle import refuse_while_recording
from logger.config.rig_file import load_rig
from logger.daemon.clock import MachineClock
from logger.domain.bus import Binding, Installation, ModbusPoint
from logger.domain.calibration import CalibrationFit, ReferencePoint, fit_of, point_of
from logger.domain.channel import UNIT_OF, Quantity
from logger.errors import InputError
from logger.wire.calibration import CalibrationModel, PointModel
from logger.wording.calibration_text import fit_lines, guidance_lines, history_lines, key_lines
from logger.wording.integrator_text import FITTING_CAUTIONS

_YEAR = timedelta(days=365)


def calibrate(
    rig_file: Annotated[Path, typer.Argument(metavar="RIG.toml", help="The rig and its wiring.")],
    channel: Annotated[Quantity | None, typer.Argument(help="Which channel; none shows the history.")] = None,
    by: Annotated[str, typer.Option(help="Who holds the reference.")] = "",
    reference: Annotated[str, typer.Option(help="The reference instrument and its serial.")] = "",
    certificate: Annotated[str, typer.Option(help="Number of the reference's certificate.")] = "",
    reference_uncertainty: Annotated[
        float | None, typer.Option(min=0.0, help="Its standard uncertainty in the channel's unit.")
    ] = None,
    due: Annotated[str, typer.Option(help="Next due date, YYYY-MM-DD; a year from today.")] = "",
    seconds: Annotated[float, typer.Option(min=0.5, max=600.0, help="Averaged at each point.")] = 5.0,
    socket: SocketOption = None,
) -> None:
    """Hold a channel against a reference and say what to write into the rig file. Read-only."""
    installation = load_rig(rig_file)
    if channel is None:
        out(history_lines(calibrations(rig_file)))
        return
    binding = _binding_of(installation, channel)
    if not by or not reference or reference_uncertainty is None:
        raise InputError(
            "--by, --reference and --reference-uncertainty are needed: a record without them is none"
        )
    today = MachineClock().utc().date()
    due_on = _due(due, today)
    refuse_while_recording(socket, "calibrate")
    unit = UNIT_OF[channel]
    say("\n".join((*FITTING_CAUTIONS, *guidance_lines(binding.channel))))
    points = _points(installation, binding, unit, seconds)
    try:
        fit = fit_of(points, binding.channel.scaling, reference_uncertainty)
    except ValueError as error:
        raise InputError(f"{error}; nothing was kept", key=str(channel)) from None
    entry = CalibrationModel(
        rig=installation.rig.name,
        channel=channel,
        unit=unit,
        sensor_serial=binding.channel.sensor_serial,
        calibrated=today.isoformat(),
        due=due_on,
        by=by,
        reference=reference,
        certificate=certificate,
        reference_uncertainty=reference_uncertainty,
        points=_point_models(points, fit),
        gain=fit.gain,
        offset=fit.offset,
        standard_uncertainty=fit.standard_uncertainty,
        recorded_utc=MachineClock().stamp().utc,
    )
    history = append_calibration(rig_file, entry)
    out(fit_lines(points, fit, unit))
    out(["", *key_lines(binding.channel, fit, unit, (entry.calibrated, entry.due))])
    say(f"kept in {history}; write the keys above into {rig_file}, then: beadwatch check {rig_file} --live")


def _binding_of(installation: Installation, quantity: Quantity) -> Binding:
    found = [one for one in installation.bindings if one.channel.quantity is quantity]
    if not found:
        known = ", ".join(one.channel.quantity for one in installation.bindings)
        raise InputError(f"the rig has no such channel; it has {known}", key=str(quantity))
    if not isinstance(found[0].point, ModbusPoint) or found[0].point.table.holds_bits:
        raise InputError("is read as a value or a switch: adjust it in its device", key=str(quantity))
    return found[0]


def _due(text: str, today: date) -> str:
    try:
        on = date.fromisoformat(text) if text else today + _YEAR
    except ValueError:
        raise InputError(f'"{text}" is no date like 2027-02-10', key="--due") from None
    if on <= today:
        raise InputError(f"{on} is not after today", key="--due")
    return on.isoformat()


def _points(installation: Installation, binding: Binding, unit: str, seconds: float) -> list[ReferencePoint]:
    """Ask for the reference's reading and average the channel, until an empty answer."""
    alone = replace(installation, bindings=(binding,))
    logging.getLogger("logger.acquire").setLevel(logging.ERROR)
    points: list[ReferencePoint] = []
    while True:
        try:
            text = ask(f"Point {len(points) + 1}: the reference shows, in {unit} (empty ends)")
        except EOFError:
            return points
        if not text:
            return points
        try:
            shown = float(text)
        except ValueError:
            say(f'"{text}" is no number')
            continue
        watch = asyncio.run(watched(alone, MachineClock(), seconds))
        numbers = [binding.channel.scaling.number_of(r.raw) for s in watch.samples for r in s.readings]
        try:
            point = point_of(shown, numbers)
        except ValueError as error:
            say(f"{error}; {dict(watch.buses[0].errors)}")
            continue
        points.append(point)
        scaled = binding.channel.scaling.value_at(point.number)
        say(f"  {point.count} readings, {scaled:.4g} {unit}, off by {scaled - shown:+.3g}")


def _point_models(points: list[ReferencePoint], fit: CalibrationFit) -> tuple[PointModel, ...]:
    errors = zip(points, fit.errors_before, fit.errors_after, strict=True)
    return tuple(
        PointModel(
            reference=point.reference,
            number=point.number,
            spread=point.spread,
            count=point.count,
            error_before=before,
            error_after=after,
        )
        for point, before, after in errors
    )
