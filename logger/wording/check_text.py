"""What `check` says of a rig file, and of a rig that it watched."""

from collections.abc import Iterable, Sequence

from logger.domain.bus import (
    Binding,
    Bus,
    LineField,
    ModbusPoint,
    OwnDriverBus,
    Point,
    ReplayBus,
    SerialLineBus,
)
from logger.domain.bus_load import BusLoad
from logger.domain.channel import FLOATS, UNIT_OF, Channel, DataType, Quality
from logger.domain.live_check import Acuity, ChannelCheck, LinkCheck, ShortestLimit
from logger.domain.measurement import VISIBLE_SIGMAS
from logger.domain.wiring import WiringCode, WiringRemark

_REMARKS = {
    WiringCode.NO_UNCERTAINTY: "{channel}: no uncertainty is declared, so its limits cannot be decided",
    WiringCode.NO_RANGE: "{channel}: neither valid nor a 4-20 mA signal: a broken wire passes for a value",
    WiringCode.CALIBRATION_OVERDUE: "{channel}: calibration was due on {due}",
    WiringCode.SURFACE_OVERDUE: "plate surface: both faces were to be read again on {due}",
    WiringCode.NO_SURFACE: (
        "{channel}: nobody has held the plate's surface against it, and that is what limits are for"
    ),
    WiringCode.NO_SENSOR_SERIAL: "{channel}: the sensor's serial is not given",
    WiringCode.SLOW_UNIT: (
        "{channel}: its device may take {0:g} s to answer, its polls are {1:g} s apart: set worst_latency to "
        "what its manual says, or a slower rate"
    ),
    WiringCode.GAUGE_SIDE_UNKNOWN: "gauge_side is unknown: whether opening strokes show is left open",
    WiringCode.NO_PISTON_AREA: "no cylinder_area and no [cylinders]: each joint has to give the area",
}
QUALITIES = {
    Quality.NOT_A_NUMBER: "not a number",
    Quality.OUT_OF_RANGE: "outside its valid range",
    Quality.LOOP_LOW: "loop at 3.6 mA or less: broken wire?",
    Quality.LOOP_HIGH: "loop at 21 mA or more: over-range or short circuit",
    Quality.TOO_FAST: "faster than max_change_per_s",
    Quality.STUCK: "stuck",
    Quality.DISAGREES: "disagrees with the second sensor",
}


def channel_lines(bindings: Iterable[Binding]) -> list[str]:
    """Return a line per channel: where it is read, how, and what is declared of it."""
    lines = []
    for binding in bindings:
        channel, unit = binding.channel, _unit(binding.channel)
        kind = "" if channel.scaling.data_type is DataType.COUNT else f" {channel.scaling.data_type}"
        parts = [f"{channel.quantity:<20}{binding.bus} {_place(binding.point)}{kind}, {channel.rate_hz:g} Hz"]
        if channel.loop is not None:
            parts.append(f"4-20 mA is {channel.loop.at_4_mA:g} to {channel.loop.at_20_mA:g}{unit}")
        if channel.valid_min is not None and channel.valid_max is not None:
            parts.append(f"valid {channel.valid_min:g} to {channel.valid_max:g}{unit}")
        if channel.scaling.data_type not in FLOATS:
            parts.append(f"step {channel.resolution:.4g}{unit}")
        if channel.standard_uncertainty is not None:
            parts.append(f"standard uncertainty {channel.standard_uncertainty:.3g}{unit}")
        lines.append(", ".join(parts))
    return lines


def _place(point: Point) -> str:
    if isinstance(point, ModbusPoint):
        return f"unit {point.unit_id} {point.table} {point.address}"
    return f'field "{point.group}"' if isinstance(point, LineField) else f'column "{point.column}"'


def _unit(channel: Channel) -> str:
    unit = UNIT_OF[channel.quantity]
    return "" if unit == "1" else f" {unit}"


def load_lines(loads: Iterable[BusLoad]) -> list[str]:
    """Return the load table: each request's share of its bus's time, by the serial timing formula."""
    lines = []
    for load in loads:
        if any(request.time_s is None for request in load.requests):
            lines.append(f"{load.bus} ({load.form}): no formula bounds TCP; --live measures it")
        elif load.requests:
            lines.append(
                f"{load.bus} ({load.form}): {100 * load.share:.1f} % of the bus time; each request leaves "
                f"{1000 * load.room_s:.0f} ms for its device to begin the answer"
            )
        for request in load.requests:
            what = counted(request.count, "bit" if request.table.holds_bits else "register")
            where = f"unit {request.unit_id} {request.table} {request.address}, {what}"
            share = (
                "" if request.time_s is None else f" x {1000 * request.time_s:.1f} ms = {request.share:.3f}"
            )
            lines.append(f"  {where:<38}{request.rate_hz:g}/s{share}")
    return lines


def paced_lines(buses: Iterable[Bus]) -> list[str]:
    """Say of the buses without a load, for the load table, what sets their pace."""
    lines = []
    for bus in buses:
        if isinstance(bus, SerialLineBus):
            how = "as they are sent" if bus.poll_request is None else "as they are asked for"
            lines.append(f"{bus.name} ({bus.path}): lines of text, {how}; --live measures them")
        elif isinstance(bus, OwnDriverBus):
            lines.append(f"{bus.name} ({bus.file}): a driver of your own; --live measures it")
        elif isinstance(bus, ReplayBus):
            lines.append(f"{bus.name} ({bus.file}): a recording, at its own times")
    return lines


def counted(count: int, what: str) -> str:
    """Return "1 register", "2 registers"."""
    return f"{count} {what}{'' if count == 1 else 'es' if what.endswith('s') else 's'}"


def remark_lines(remarks: Iterable[WiringRemark]) -> list[str]:
    return [_REMARKS[one.code].format(*one.figures, channel=one.channel, due=one.due) for one in remarks]


def limit_lines(limits: Sequence[ShortestLimit], acuity: Acuity, *, is_measured: bool) -> list[str]:
    """Say whether rate, noise, ripple and resolution suffice for the shortest limits of all procedures."""
    how = f"at {acuity.rate_hz:.3g} Hz {'measured' if is_measured else 'declared'}"
    if acuity.spread_bar is not None:
        how += f" and {acuity.spread_bar:.2g} bar of noise and ripple"
    lines = []
    for limit in limits:
        lines.append(
            f"{limit.phase.replace('_', ' ')} at most {limit.limit_s:.3g} s ({limit.procedure}, dn "
            f"{limit.diameter_mm:g} SDR {limit.sdr:g}): {_suffices(limit, acuity)}"
        )
        lines.append(f"  {how} the guard band is {limit.guard_s(acuity):.2f} s{_edge_text(limit, acuity)}")
    return lines


def _suffices(limit: ShortestLimit, acuity: Acuity) -> str:
    is_unsaid = acuity.spread_bar is not None and limit.edge_force_N is not None
    if is_unsaid and acuity.piston_area_mm2 is None:
        return "CANNOT BE SAID without the piston area (cylinder_area)"
    if limit.is_enough(acuity):
        return "enough"
    larger = limit.enough_from(acuity)
    return "NOT ENOUGH" + ("" if larger is None else f"; enough from dn {larger.diameter_mm:g} on")


def _edge_text(limit: ShortestLimit, acuity: Acuity) -> str:
    """Say whether the pressure that bounds it stands out of what was measured."""
    edge_bar, shows = limit.edge_bar(acuity), limit.shows(acuity)
    if edge_bar is None or shows is None:
        return ""
    return f"; its edge of {edge_bar:.2g} bar " + ("shows" if shows else "DOES NOT SHOW")


def link_lines(links: Iterable[LinkCheck]) -> list[str]:
    """Return what each bus did: polls, latency, errors."""
    lines = []
    for link in links:
        lines.append(
            f"{link.bus}: {link.good} polls answered, {link.failed} failed, {link.missed} slots missed"
        )
        if link.latency_median_s is not None and link.latency_worst_s is not None:
            lines.append(
                f"  answer after {1000 * link.latency_median_s:.1f} ms in the middle, "
                f"{1000 * link.latency_worst_s:.1f} ms at worst"
            )
        lines += [f"  {count} x {error}" for error, count in link.errors]
    return lines


def signal_lines(checks: Iterable[ChannelCheck]) -> list[str]:
    """Return what each channel showed."""
    lines = []
    for check in checks:
        channel, measure, unit = check.channel, check.measure, _unit(check.channel)
        noise, ripple = measure.noise, measure.ripple
        if measure.rate_hz is None or measure.mean is None or noise is None or ripple is None:
            lines.append(
                f"{channel.quantity}: only {measure.samples} usable samples, NOT ENOUGH to say anything"
            )
        else:
            lines.append(
                f"{channel.quantity}: {measure.mean:.4g}{unit}, {measure.rate_hz:.2f} Hz of "
                f"{channel.rate_hz:g}, longest gap {measure.longest_gap_s:.2f} s"
            )
            seen = measure.effective_resolution(channel.resolution)
            step = "none seen" if measure.step is None else f"{measure.step:.3g}{unit}"
            lines.append(
                f"  noise {round(noise, 9):.3g}{unit}, ripple {round(ripple, 9):.3g}{unit}, step {step}; "
                f"an edge shows from {seen:.3g}{unit} on ({VISIBLE_SIGMAS:g} standard deviations, the ripple "
                "or a step)"
            )
        lines += [f"  {count} readings not used: {QUALITIES[quality]}" for quality, count in check.marks]
    return lines
