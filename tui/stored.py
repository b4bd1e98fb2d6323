"""A joint of the record as the monitor shows it: what is known of it, its judgement and its curve."""

from dataclasses import dataclass, field

from logger.domain.joint_plan import JointPlan
from logger.domain.judgement import Judgement
from logger.domain.record import Stamp, Statement
from logger.wire.desk import StatementModel
from logger.wire.history import CurveMessage, JointDetail
from logger.wire.judgement import JudgementModel, judgement_value
from logger.wire.plan import plan_value
from logger.wire.stream import SamplesMessage
from tui.axes import PhaseTimes
from tui.link import Link
from tui.series import Series

POINTS = 4000
"""More than a wide terminal has columns of dots."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredJoint:
    """`judgement` is None while the joint is open; a curve that was not asked for is empty."""

    detail: JointDetail
    judgement: Judgement | None = None
    pressure: Series = field(default_factory=Series)

    @property
    def uuid(self) -> str:
        return self.detail.summary.uuid

    @property
    def plan(self) -> JointPlan | None:
        """The plan it was judged against, else the one it was opened with."""
        if self.judgement is not None and self.judgement.plan is not None:
            return self.judgement.plan
        return None if self.detail.plan is None else plan_value(self.detail.plan)

    @property
    def phases(self) -> PhaseTimes:
        """Phases that were detected, those without a start left out."""
        spans = self.judgement.phases if self.judgement else ()
        return [(span.phase, span.start.at_s, span.end.at_s) for span in spans if span.start.at_s is not None]

    @property
    def statements(self) -> list[Statement]:
        return [_statement(said, self.uuid) for said in self.detail.statements]

    def said(self, kind: str) -> list[StatementModel]:
        """What was said of this kind, in order."""
        return [one for one in self.detail.statements if one.kind == kind]


async def stored_joint(link: Link, uuid: str, *, has_curve: bool = False) -> StoredJoint:
    """Ask for a joint. Raises DeviceError or InputError as the link does."""
    detail = await link.get(JointDetail, f"/v1/joints/{uuid}")
    judgement = None
    if detail.summary.verdict is not None:
        judgement = judgement_value(await link.get(JudgementModel, f"/v1/joints/{uuid}/judgement"))
    pressure = Series()
    if has_curve:
        curve = await link.get(CurveMessage, f"/v1/joints/{uuid}/curve?points={POINTS}")
        pressure = pressure_of(curve.samples)
    return StoredJoint(detail=detail, judgement=judgement, pressure=pressure)


def pressure_of(samples: SamplesMessage) -> Series:
    """The gauge pressure; a missing reading is left out."""
    series = Series()
    for t_s, value in zip(samples.t_s, samples.pressure_bar, strict=True):
        if value is not None:
            series.append(t_s, value)
    return series


def _statement(said: StatementModel, uuid: str) -> Statement:
    return Statement(
        kind=said.kind,
        author=said.author,
        at=Stamp(mono_ms=0, utc=said.at_utc),
        body=said.body,
        joint_uuid=uuid,
        reason=said.reason,
        at_s=said.at_s,
        seq=said.seq,
    )
