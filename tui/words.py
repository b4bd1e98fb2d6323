"""Lines of text made of what the picture holds: phases, limits, deviations, health. Pure."""

from logger.domain.channel import Quality
from logger.domain.phase import PHASES, Phase
from logger.domain.rig import Origin
from logger.wire.live import AlarmMessage, EventMessage
from logger.wording import events
from logger.wording.events import CHANNEL_NAMES, ORIGIN_NOTES, PHASE_NAMES
from logger.wording.reasons import ending_text
from logger.wording.recorder_lines import told
from logger.wording.units import Units
from tui.catalogue import capitals, caption, is_draft, tr
from tui.deviations import Deviation, Subject, step_at
from tui.forwarding import forwarding_lines
from tui.glance import Cue, Trust
from tui.model import PLATE, PRESENT, PRESSURE, Picture
from tui.numbers import band_text, degrees, gauge, number, seconds


def phase_name(phase: Phase | None) -> str:
    return tr("preparation") if phase is None else tr(PHASE_NAMES[phase])


def phase_line(picture: Picture) -> str:
    """Phase now and next."""
    if picture.state is None:
        return tr("NO RECORDER")
    if picture.is_released:
        return tr("RELEASED")
    if picture.state.joint_uuid is None:
        return tr("NO JOINT OPEN")
    phase = picture.phase
    index = PHASES.index(phase) + 1 if phase else 0
    following = tr(PHASE_NAMES[PHASES[index]]) if index < len(PHASES) else tr("release")
    return tr("{now}   next: {next}", now=capitals(phase_name(phase)), next=following)


def head_line(picture: Picture) -> str:
    """Whose joint, on which rig; what is not real is said first."""
    state = picture.state
    parts = []
    if state is not None:
        if state.origin != Origin.LIVE:
            scale = number(state.time_scale, 0)
            is_simulated = state.origin == Origin.SIMULATED
            note = tr("SIMULATED x{scale}", scale=scale) if is_simulated else _origin_text(state.origin)
            parts.append(note)
        joint = state.joint or (tr("joint without a name") if state.joint_uuid else "")
        if joint:
            parts.append(
                joint
                if state.attempt in (None, 1)
                else tr("{joint} attempt {n}", joint=joint, n=state.attempt)
            )
        parts.append(state.rig)
    if is_draft():
        parts.append(tr("DRAFT TRANSLATION, not reviewed"))
    return " · ".join(parts)


def _origin_text(origin: str) -> str:
    return tr(ORIGIN_NOTES[Origin(origin)]) if origin in set(Origin) else origin


def pressure_caption(picture: Picture) -> str:
    """What stands under the pressure: its unit and limits now."""
    units = picture.units
    plan, phase = picture.plan, picture.phase
    if plan is None or phase is None:
        return caption("{unit} on the gauge", unit=units.pressure)
    gone_s = picture.now_s - picture.phases[-1][1]
    band = step_at(plan, phase, gone_s).gauge_pressure_bar
    limits = band_text(band.min, band.max, units)
    return caption("{unit}; plan {limits}", unit=units.pressure, limits=limits)


def plate_line(picture: Picture) -> str:
    channel = picture.channel(PLATE)
    if channel is None:
        return tr("Plate: no sensor")
    value = tr("no reading") if channel.value is None or channel.state != PRESENT else degrees(channel.value)
    band = picture.plan.plate_temperature_degC if picture.plan else None
    if band is None or band.min is None or band.max is None:
        return tr("Plate {value}", value=value)
    return tr(
        "Plate {value}, {low} to {high}", value=value, low=number(band.min, 0), high=number(band.max, 0)
    )


def deviation_lines(picture: Picture, most: int) -> list[str]:
    """What deviates or has deviated, at most so many."""
    now_s = picture.now_s
    return [_deviation_text(d, now_s, picture.units) for d in picture.deviations()[:most]]


def _deviation_text(deviation: Deviation, now_s: float, units: Units) -> str:
    far = abs(deviation.worst)
    match deviation.subject:
        case Subject.PRESSURE:
            # A distance converts like a pressure: the scales share their zero.
            by = f"{gauge(far, units)} {units.pressure}"
            what = tr("pressure too high") if deviation.worst > 0 else tr("pressure too low")
        case Subject.PLATE:
            by = f"{number(far, 0)} °C"
            what = tr("plate too hot") if deviation.worst > 0 else tr("plate too cold")
        case Subject.FACES:
            by = f"{number(far, 1)} mm"
            what = tr("faces parted")
        case Subject.TIME:
            by = seconds(far, 1)
            if deviation.worst < 0:
                return tr("! {phase}: too short by {by}", phase=phase_name(deviation.phase), by=by)
            what = tr("time limit passed")
    text = tr(
        "! {phase}: {what} by {by}, for {time}",
        phase=phase_name(deviation.phase), what=what, by=by, time=seconds(deviation.lasted_s(now_s), 0),
    )  # fmt: skip
    return text if deviation.until_s is None else tr("{deviation} (over)", deviation=text)


def health_lines(picture: Picture, now_s: float) -> list[str]:
    """Link, sensors and record: what is wrong, or one line that nothing is; then where curves go."""
    return [*(troubles(picture, now_s) or [tr("link ok, sensors ok, record ok")]), *forwarding_lines(picture)]


def troubles(picture: Picture, now_s: float) -> list[str]:
    """What is wrong with link, sensors and record, each a line."""
    lines = []
    age_s = picture.age_s(now_s)
    if picture.trust(now_s) is Trust.OLD:
        age = tr("never heard") if age_s is None else tr("{time} old", time=seconds(age_s))
        lines.append(tr("! NO LINK to the recorder; what is shown is {age}. It goes on by itself.", age=age))
    state = picture.state
    if state is not None:
        if state.unsure and picture.trust(now_s) is Trust.UNSURE:
            lines.append(tr("! The phase is not sure: {why}", why=_unsure_text(state.unsure)))
        for channel in state.channels:
            if channel.state != PRESENT:
                lines.append(tr("! SENSOR {name}: no readings", name=_channel_name(channel.quantity)))
            elif why := _unused_text(channel.quality):
                lines.append(tr("! SENSOR {name}: {why}", name=_channel_name(channel.quantity), why=why))
        if state.store.error:
            lines.append(tr("! NOT RECORDED on disk: {error}", error=told(state.store.error)))
        lines += [f"! {_alarm_text(alarm)}" for alarm in state.alarms]
        if state.store.dropped:
            lines.append(tr("! {count} samples lost for want of room", count=state.store.dropped))
    return lines


def _unused_text(quality: str) -> str:
    """Why what a sensor says is not used; empty where it is, or where only one reading was too fast."""
    texts = {
        Quality.NOT_A_NUMBER: tr("says no number"),
        Quality.OUT_OF_RANGE: tr("outside its range"),
        Quality.LOOP_LOW: tr("broken wire?"),
        Quality.LOOP_HIGH: tr("over-range or short circuit"),
        Quality.STUCK: tr("stuck"),
        Quality.DISAGREES: tr("differs from the second sensor"),
    }
    return next((text for code, text in texts.items() if code == quality), "")


def _unsure_text(code: str) -> str:
    texts = {
        "old_data": tr("no pressure has come lately"),
        "gap": tr("readings were missing"),
        "soak_may_be_under_pressure": tr("the soak may be under pressure"),
    }
    return texts.get(code) or ending_text(code)


def _channel_name(quantity: str) -> str:
    return tr(CHANNEL_NAMES.get(quantity, quantity))


def _alarm_text(alarm: AlarmMessage) -> str:
    return events.event_text(alarm.code, {"text": alarm.text, **alarm.parameters})


def big_pressure(picture: Picture, now_s: float) -> str:
    """The pressure as a large figure; empty where it is not of now."""
    if picture.trust(now_s) is not Trust.FULL:
        return ""
    channel = picture.channel(PRESSURE)
    return "" if channel is None or channel.value is None else gauge(channel.value, picture.units)


def cautions_of(cue: Cue) -> list[str]:
    return [f"▲ {text}" for text in cue.cautions]


def event_text(event: EventMessage) -> str:
    """What happened, in the operator's language; what has no words there as the recorder words it."""
    return events.event_text(event.code, {"text": event.text, **event.parameters})
