"""What a monitor knows: messages go in, what a screen shows comes out. Pure, without a clock of its own."""

from collections import deque

from logger.domain.joint_plan import JointPlan
from logger.domain.phase import Phase
from logger.wire.live import ChannelMessage, EventMessage, StateMessage
from logger.wire.plan import plan_value
from logger.wire.stream import SamplesMessage, SnapshotMessage, UpdateMessage
from logger.wording.units import METRIC, Units
from tui.cues import cue_of
from tui.deviations import Deviation, DeviationWatch, Subject
from tui.glance import Cue, Moment, Trust
from tui.series import Series

OLD_AFTER_S = 2.0
"""Messages come ten times a second; nothing for so long is old."""
READING_OLD_AFTER_S = 2.0
PRESSURE, PLATE = "pressure", "plate_temperature"
PRESENT = "present"
_EVENTS = 200
_BEGINNINGS = {"phase.none": None, **{f"phase.{phase}": phase for phase in Phase}}
_OPENING = ("joint.opened", "joint.resumed")


class Picture:
    """One rig as last heard of. `plan` is None where no joint is open or it has no name."""

    def __init__(self, units: Units = METRIC) -> None:
        self.units = units
        self.state: StateMessage | None = None
        self.plan: JointPlan | None = None
        self.heard_at_s: float | None = None
        self.link_error = ""
        self.events: deque[EventMessage] = deque(maxlen=_EVENTS)
        self._new_joint(None)

    def _of_joint(self, uuid: str | None) -> None:
        """Begin anew for another joint; what is shown of one that has ended stays until the next."""
        if uuid is not None and uuid != self.joint_uuid:
            self._new_joint(uuid)

    def _new_joint(self, uuid: str | None) -> None:
        self.joint_uuid = uuid
        self.operator = ""
        self.last_seq = 0
        self.pressure = Series()
        self.plate = Series()
        self.watch = DeviationWatch()
        self.phases: list[tuple[Phase, float, float | None]] = []
        """Phases as they were: start and end, the last one open."""
        self.is_released = False

    def take(self, message: SnapshotMessage | UpdateMessage, at_s: float) -> None:
        """Take a message of the live link, received at `at_s` of the monitor's own clock."""
        if isinstance(message, SnapshotMessage):
            self._of_joint(message.state.joint_uuid)
            if message.state.joint_uuid is not None:
                self.plan = None if message.plan is None else plan_value(message.plan)
        self.take_state(message.state, at_s)
        if message.samples is not None:
            self.take_samples(message.samples)

    def take_state(self, state: StateMessage, at_s: float) -> None:
        """Take the newest state, received at `at_s` of the monitor's own clock."""
        self._of_joint(state.joint_uuid)
        if self.joint_uuid is not None and state.joint_uuid is None:
            self._stand_still(state, at_s)
            return
        for event in _of_this_joint(state.events):
            if event.code in _BEGINNINGS:
                self._enter(_BEGINNINGS[event.code], event.at_s)
        phase = Phase(state.phase) if state.phase else None
        since_s = state.phase_since_s if state.phase_since_s is not None else state.now_s
        self._enter(phase, since_s)
        self.state = state
        self.heard_at_s = at_s
        self.link_error = ""
        self.events.extend(state.events)

    def _stand_still(self, state: StateMessage, at_s: float) -> None:
        """The joint shown has ended: what follows is told on another clock, and is not its own."""
        if self.phase is not None:
            self._enter(None, self.now_s)
        self.state = state.model_copy(update={"now_s": self.now_s, "phase": None, "phase_since_s": None})
        self.heard_at_s = at_s
        self.link_error = ""
        self.events.extend(state.events)

    @property
    def now_s(self) -> float:
        """The latest instant that is known of the joint, on its own clock."""
        return self.state.now_s if self.state is not None else 0.0

    def _enter(self, phase: Phase | None, since_s: float) -> None:
        before = self.phases[-1] if self.phases and self.phases[-1][2] is None else None
        if before is not None and before[0] is phase:
            # The start of a phase may be placed better once more of it is seen.
            self.phases[-1] = (before[0], since_s, None)
            return
        if before is not None:
            self.phases[-1] = (before[0], before[1], since_s)
            self.is_released = before[0] is Phase.COOLING and phase is None
        if phase is not None:
            self.phases.append((phase, since_s, None))
            self.is_released = False

    def take_samples(self, samples: SamplesMessage) -> None:
        """Take samples in the order of their numbers; one known already changes nothing."""
        self._of_joint(samples.joint_uuid)
        columns = zip(
            samples.t_s, samples.pressure_bar, samples.plate_temperature_degC, samples.carriage_mm,
            strict=True,
        )  # fmt: skip
        for seq, (t_s, pressure_bar, plate_degC, opening_mm) in enumerate(columns, samples.first_seq):
            if seq <= self.last_seq:
                continue
            self.last_seq = seq
            if pressure_bar is not None:
                self.pressure.append(t_s, pressure_bar)
            if plate_degC is not None:
                self.plate.append(t_s, plate_degC)
            if self.plan is not None:
                phase, since_s = self._phase_at(t_s)
                self.watch.enter(self.plan, phase, since_s)
                values = {
                    Subject.PRESSURE: pressure_bar, Subject.PLATE: plate_degC, Subject.FACES: opening_mm,
                }  # fmt: skip
                self.watch.read(self.plan, since_s, t_s, values)

    def _phase_at(self, t_s: float) -> tuple[Phase | None, float]:
        """The phase at a time and when it began; samples may come long after they were taken."""
        for phase, start_s, end_s in reversed(self.phases):
            if t_s >= start_s:
                return (phase, start_s) if end_s is None or t_s < end_s else (None, end_s)
        return None, 0.0

    def lose(self, error: str) -> None:
        """The recorder does not answer, for this reason."""
        self.link_error = error

    def age_s(self, now_s: float) -> float | None:
        """How old what is shown is, on the monitor's own clock."""
        return None if self.heard_at_s is None else now_s - self.heard_at_s

    def trust(self, now_s: float) -> Trust:
        age_s = self.age_s(now_s)
        if self.state is None or age_s is None or age_s > OLD_AFTER_S or self.link_error:
            return Trust.OLD
        pressure = self.channel(PRESSURE)
        if self.state.unsure or pressure is None or not _is_alive(pressure, self.state.time_scale):
            return Trust.UNSURE
        return Trust.FULL

    def channel(self, quantity: str) -> ChannelMessage | None:
        channels = self.state.channels if self.state else ()
        return next((channel for channel in channels if channel.quantity == quantity), None)

    @property
    def phase(self) -> Phase | None:
        return self.phases[-1][0] if self.phases and self.phases[-1][2] is None else None

    @property
    def verdict(self) -> str:
        """Of the joint shown, once it is judged; empty before."""
        state = self.state
        if state is None or self.joint_uuid is None or state.last_joint_uuid != self.joint_uuid:
            return ""
        return state.last_verdict or ""

    @property
    def is_spoilt(self) -> bool:
        """A limit was passed that cannot be made good: the changeover's, or the build-up's."""
        lost = (Phase.CHANGEOVER, Phase.PRESSURE_BUILD_UP)
        return any(d.subject is Subject.TIME and d.worst > 0 and d.phase in lost for d in self.watch.seen)

    def deviations(self) -> list[Deviation]:
        """Those of this joint, the newest first, those that last before those that are over."""
        return sorted(self.watch.seen, key=lambda d: (d.until_s is not None, -d.since_s))

    def moment(self, now_s: float) -> Moment:
        state = self.state
        late_s = early_s = 0.0
        if state is not None and state.phase_since_s is not None:
            late_s = state.now_s - _or(state.phase_late_s, state.phase_since_s)
            early_s = state.now_s - _or(state.phase_early_s, state.phase_since_s)
        return Moment(
            phase=self.phase,
            since_late_s=late_s,
            since_early_s=early_s,
            plan=self.plan,
            is_joint_open=state is not None and state.joint_uuid is not None,
            is_bead_seen=state is not None and state.bead_by is not None,
            is_spoilt=self.is_spoilt,
            is_released=self.is_released,
            verdict=self.verdict,
            trust=self.trust(now_s),
            units=self.units,
        )

    def cue(self, now_s: float) -> Cue:
        return cue_of(self.moment(now_s))


def _or(edge_s: float | None, since_s: float) -> float:
    return since_s if edge_s is None else edge_s


def _is_alive(channel: ChannelMessage, time_scale: float) -> bool:
    """Readings arrive. Ages are on the recorder's clock, which a demonstration runs faster."""
    fresh = channel.age_s is not None and channel.age_s <= READING_OLD_AFTER_S * time_scale
    return fresh and channel.value is not None and channel.state == PRESENT


def _of_this_joint(events: tuple[EventMessage, ...]) -> tuple[EventMessage, ...]:
    """Events since a joint was opened last; all of them where that was before."""
    opened = [index for index, event in enumerate(events) if event.code in _OPENING]
    return events[opened[-1] :] if opened else events
