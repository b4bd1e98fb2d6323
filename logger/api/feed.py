"""What one viewer is sent: a cursor into the joint's own samples, so that no viewer has a queue."""

from logger.api.ports import ViewPort
from logger.wire.plan import PlanModel
from logger.wire.stream import SnapshotMessage, UpdateMessage

BACKLOG = 600
"""A viewer that is more samples behind is dropped to the newest: a minute at 10 Hz."""
SNAPSHOT_SAMPLES = 20_000
"""Most samples in one snapshot or curve; the rest is asked for in pages."""


class Feed:
    """The messages for one viewer, made when it can take the next one."""

    def __init__(self, view: ViewPort, joint_uuid: str = "", since_seq: int = 0) -> None:
        self._view = view
        self._joint_uuid: str | None = joint_uuid or None
        self._seq = since_seq if joint_uuid else 0
        self._event_seq = 0
        self._plan: PlanModel | None = None
        self._has_begun = False

    def next_message(self, *, is_due: bool) -> SnapshotMessage | UpdateMessage | None:
        """Return what is new, or None where nothing is and no sign of life `is_due`."""
        state = self._view.state(self._event_seq)
        plan = self._view.plan()
        if not self._has_begun or state.joint_uuid != self._joint_uuid or plan is not self._plan:
            return self._snapshot(state.joint_uuid, plan)
        total = self._view.sample_count()
        if total == self._seq and not state.events and not is_due:
            return None
        skipped = max(0, total - self._seq - BACKLOG)
        samples = self._view.samples(self._seq + skipped, BACKLOG) if total > self._seq else None
        self._seq = total
        self._note(state.events[-1].seq if state.events else self._event_seq)
        return UpdateMessage(state=state, samples=samples, skipped=skipped)

    def _snapshot(self, joint_uuid: str | None, plan: PlanModel | None) -> SnapshotMessage:
        if joint_uuid != self._joint_uuid:
            self._seq = 0
        self._has_begun, self._joint_uuid, self._plan = True, joint_uuid, plan
        state = self._view.state(self._event_seq)
        total = self._view.sample_count()
        begin = max(min(self._seq, total), total - SNAPSHOT_SAMPLES)
        samples = self._view.samples(begin, SNAPSHOT_SAMPLES)
        self._seq = total
        self._note(state.events[-1].seq if state.events else self._event_seq)
        return SnapshotMessage(state=state, plan=plan, samples=samples)

    def _note(self, event_seq: int) -> None:
        self._event_seq = event_seq
