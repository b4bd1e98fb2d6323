"""`beadwatch calibrate`: a channel against a reference, two or more points, and a history that only grows."""

import asyncio
import logging
from collections.abc import Iterable
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
from logger.domain.bus import Binding, Installation, ModbusPoint, ReplayField
from logger.domain.calibration import CalibrationFit, ReferencePoint, fit_of, point_of
from logger.domain.channel import UNIT_OF, Quantity, Scaling
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
    reference_due: Annotated[
        str, typer.Option(help="When the reference's own calibration is due, YYYY-MM-DD.")
    ] = "",
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
    reference_due_on = _reference_due(reference_due, today)
    refuse_while_recording(socket, "calibrate")
    unit = UNIT_OF[channel]
    say("\n".join((*FITTING_CAUTIONS, *guidance_lines(binding.channel))))
    points = _points(installation, binding, unit, seconds)
    try:
        fit = fit_of(points, _scaling_of(binding), reference_uncertainty)
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
        reference_due=reference_due_on,
        reference_uncertainty=reference_uncertainty,
        points=_point_models(points, fit),
        gain=fit.gain,
        offset=fit.offset,
        standard_uncertainty=fit.standard_uncertainty,
        recorded_utc=MachineClock().stamp().utc,
    )
    history = append_calibration(rig_file, entry)
    out(fit_lines(points, fit, unit))
    is_text = not isinstance(binding.point, ModbusPoint)
    out(["", *key_lines(binding.channel, fit, unit, (entry.calibrated, entry.due), is_text=is_text)])
    say(
        f"kept in {history}; write the keys above into {rig_file}, in place of its scale, span, gain, offset "
        f"or polynomial, then: beadwatch check {rig_file} --live"
    )


def _binding_of(installation: Installation, quantity: Quantity) -> Binding:
    found = [one for one in installation.bindings if one.channel.quantity is quantity]
    if not found:
        known = ", ".join(one.channel.quantity for one in installation.bindings)
        raise InputError(f"the rig has no such channel; it has {known}", key=str(quantity))
    point = found[0].point
    if isinstance(point, ReplayField):
        raise InputError("is read from a recording: no reference can be held to it", key=str(quantity))
    if quantity is Quantity.PLATE_IN or (isinstance(point, ModbusPoint) and point.table.holds_bits):
        raise InputError(
            "is a switch, on or off: nothing of it can be calibrated; work it by hand and watch it with "
            "beadwatch check --live",
            key=str(quantity),
        )
    return found[0]


def _due(text: str, today: date) -> str:
    on = _date(text, "--due") if text else today + _YEAR
    if on <= today:
        raise InputError(f"{on} is not after today", key="--due")
    return on.isoformat()


def _reference_due(text: str, today: date) -> str:
    """Refuse a reference that is overdue itself; say so where nobody knows."""
    if not text:
        say("--reference-due is not given: the history will not say whether the reference was in date")
        return ""
    on = _date(text, "--reference-due")
    if on < today:
        message = (
            f"the reference was due on {on}: what is held against it is not traceable; have it calibrated"
        )
        raise InputError(message, key="--reference-due")
    return on.isoformat()


def _date(text: str, key: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(f'"{text}" is no date like 2027-02-10', key=key) from None


def _numbers_of(binding: Binding, raws: Iterable[int]) -> list[float]:
    """Return what was read before any scaling: the device's numbers, or those in its text."""
    scaling = binding.channel.scaling
    if isinstance(binding.point, ModbusPoint):
        return [scaling.number_of(raw) for raw in raws]
    meaning = binding.point.meaning
    return [(scaling.value_of(raw) - meaning.offset) / meaning.gain for raw in raws]


def _scaling_of(binding: Binding) -> Scaling:
    """Return what turns those numbers into values now."""
    point = binding.point
    return binding.channel.scaling if isinstance(point, ModbusPoint) else point.meaning


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
        numbers = _numbers_of(binding, (r.raw for sample in watch.samples for r in sample.readings))
        try:
            point = point_of(shown, numbers)
        except ValueError as error:
            said = [f"{count} x {text}" for text, count in watch.buses[0].errors.most_common(2)]
            say("; ".join((str(error), *said)))
            continue
        points.append(point)
        scaled = _scaling_of(binding).value_at(point.number)
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
