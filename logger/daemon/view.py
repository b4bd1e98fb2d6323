"""The recorder as viewers see it: who it is, its state, the plan and the samples of the open joint."""

from collections.abc import Sequence

from logger import __version__
from logger.daemon.forward_board import ForwardBoard
from logger.daemon.open_record import OpenRecord
from logger.daemon.recorder import Recorder
from logger.domain.joint_plan import JointPlan
from logger.domain.sample import Sample
from logger.wire.live import StateMessage
from logger.wire.plan import PlanModel, plan_model
from logger.wire.stream import HelloMessage, SamplesMessage


class View:
    """Reads, never waits. A sample's number is its place in the joint, from 1."""

    def __init__(self, recorder: Recorder, forwarding: ForwardBoard | None = None) -> None:
        self._recorder = recorder
        self._forwarding = forwarding
        self._plan: tuple[JointPlan, PlanModel] | None = None

    def hello(self) -> HelloMessage:
        state = self._recorder.state()
        return HelloMessage(
            software=__version__, rig=state.rig, origin=state.origin, time_scale=state.time_scale
        )

    def state(self, since_seq: int) -> StateMessage:
        state = self._recorder.state(since_seq)
        return (
            state.model_copy(update={"forwarding": self._forwarding.messages}) if self._forwarding else state
        )

    def plan(self) -> PlanModel | None:
        record = self._record()
        plan = record.session.setting.plan if record else None
        if plan is None:
            return None
        if self._plan is None or self._plan[0] is not plan:
            self._plan = (plan, plan_model(plan))
        return self._plan[1]

    def sample_count(self) -> int:
        record = self._record()
        return len(record.session.samples) if record else 0

    def samples(self, after_seq: int, limit: int) -> SamplesMessage | None:
        record = self._record()
        if record is None:
            return None
        rows = record.session.samples.rows()[after_seq : after_seq + limit]
        return samples_message(record.uuid, rows, first_seq=after_seq + 1)

    def _record(self) -> OpenRecord | None:
        return self._recorder.open_record


def samples_message(joint_uuid: str, rows: Sequence[Sample], *, first_seq: int) -> SamplesMessage:
    """Put samples into columns."""
    return SamplesMessage(
        joint_uuid=joint_uuid,
        first_seq=first_seq,
        t_s=tuple(row.t_s for row in rows),
        pressure_bar=tuple(row.pressure_bar for row in rows),
        plate_temperature_degC=tuple(row.plate_temperature_degC for row in rows),
        carriage_mm=tuple(row.carriage_mm for row in rows),
        plate_in=tuple(row.plate_in for row in rows),
    )
