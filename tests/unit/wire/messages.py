"""One message of each kind that the local interface sends, with something in every list."""

from logger.domain.checklist import CheckCode
from logger.domain.decidable import LimitQuantity
from logger.domain.phase import Phase
from logger.domain.source import Mark
from logger.wire.desk import ChecklistMessage, CheckModel, StatementModel
from logger.wire.entry import (
    ChoicesMessage,
    DecidableModel,
    LastJoint,
    NextAttempt,
    PipeEntry,
    PlanAnswer,
    ProcedureChoice,
    RefusalModel,
    SizeChoice,
)
from logger.wire.history import CurveMessage, JointDetail, JointList, JointSummary, RecordedEvent
from logger.wire.live import (
    AlarmMessage,
    ChannelMessage,
    DragOfferMessage,
    EventMessage,
    FaceMessage,
    FieldError,
    HandSurfaceMessage,
    HeatThroughMessage,
    LimitMessage,
    StateMessage,
    StoreMessage,
    SurfaceMessage,
)
from logger.wire.model import WireModel
from logger.wire.plan import BandModel, plan_model
from logger.wire.stream import HelloMessage, SamplesMessage, SnapshotMessage, UpdateMessage
from tests.unit.wire.documents import PLAN

UUID = "00000000-0000-4000-8000-000000000001"
SAMPLES = SamplesMessage(
    joint_uuid=UUID,
    first_seq=7,
    t_s=(0.7, 0.8),
    pressure_bar=(10.25, None),
    plate_temperature_degC=(None, 219.5),
    carriage_mm=(None, 0.0),
    plate_in=(True, None),
)
STATE = StateMessage(
    software="0.1.0",
    rig="rig-7",
    origin="live",
    time_scale=1.0,
    joint="A-001",
    joint_uuid=UUID,
    attempt=2,
    phase=Phase.COOLING,
    phase_since_s=201.5,
    now_s=230.0,
    channels=(ChannelMessage(quantity="pressure", state="present", value=10.25, unit="bar", age_s=0.04),),
    store=StoreMessage(error="", pending=3, dropped=0),
    events=(EventMessage(seq=9, at_s=201.5, code="phase.cooling", text="cooling begins"),),
    last_joint="A-000",
    last_joint_uuid="00000000-0000-4000-8000-000000000000",
    last_verdict="conforming",
    phase_early_s=201.2,
    phase_late_s=201.9,
    phase_u_s=0.1,
    limits=(
        LimitMessage(
            is_max=False, step=1, limit_s=374.0, from_s=201.9, elapsed_s=28.1, remaining_s=345.9, then="x"
        ),
    ),
    bead_by="R. Okafor",
    bead_at_s=20.0,
    drag_bar=8.0,
    drag_offer=DragOfferMessage(
        pressure_bar=8.0, spread_bar=0.2, breakaway_bar=None, at_s=12.0, is_closing_seen=True
    ),
    alarms=(AlarmMessage(code="store.full", text="the disk is full"),),
    heat_through=HeatThroughMessage(
        heat="counting", gone_s=200.0, needed_s=600.0, source="a guide", mark=Mark.MEMORY
    ),
    plate_surface=SurfaceMessage(
        instrument="contact thermometer 4711",
        measured_on="2031-02-01",
        age_days=92,
        due="2031-08-03",
        due_source="every half year",
        due_mark=Mark.PRACTICE,
        is_overdue=False,
        faces=(FaceMessage(face="a", offset_K=-2.5, spread_K=3.0),),
    ),
    surface_by_hand=(
        HandSurfaceMessage(face="both", instrument="T-9", temperature_degC=217.5, age_s=40.0, offset_K=-2.0),
    ),
)
SAID = StatementModel(
    seq=1,
    kind="preparation",
    author="R. Okafor",
    reason="",
    at_utc="2031-05-04T07:00:00.000Z",
    at_s=12.5,
    body={"item": "gap", "answer": "done", "value": 0.2, "unit": "mm"},
)
SUMMARY = JointSummary(
    uuid=UUID,
    number="A-001",
    project="Lindental",
    operator="R. Okafor",
    attempt=2,
    previous_uuid="00000000-0000-4000-8000-000000000000",
    procedure="dvs-2207-1:2015",
    opened_utc="2031-05-04T07:00:00.000Z",
    utc_verified=False,
    ended="finished",
    verdict="undecided",
    origin="live",
    time_scale=1.0,
)
PIPE = PipeEntry(material="PE100", outside_diameter="180 mm", sdr="11")
MESSAGES: dict[str, WireModel] = {
    "hello-1.json": HelloMessage(software="0.1.0", rig="rig-7", origin="live", time_scale=1.0),
    "state-1.json": STATE,
    "snapshot-1.json": SnapshotMessage(state=STATE, plan=plan_model(PLAN), samples=SAMPLES),
    "update-1.json": UpdateMessage(state=STATE, samples=SAMPLES, skipped=40),
    "plan-answer-1.json": PlanAnswer(
        plan=plan_model(PLAN),
        missing=("operator",),
        errors=(FieldError(field="pipe.sdr", message="is no number", nearest=("11",)),),
        refusals=(RefusalModel(code="scope.above", parameters={"value": 131.0}, message="too thick"),),
        decidable=(
            DecidableModel(
                phase=Phase.COOLING,
                step=None,
                quantity=LimitQuantity.PRESSURE,
                unit="bar",
                room=0.5,
                guard=0.2,
                is_decided=True,
                smallest_diameter_mm=63.0,
            ),
        ),
        attempt=NextAttempt(
            attempt=2,
            previous_uuid=UUID,
            previous_verdict="undecided",
            previous_opened_utc=SUMMARY.opened_utc,
        ),
    ),
    "choices-1.json": ChoicesMessage(
        materials=("PE100",),
        procedures=(
            ProcedureChoice(
                id="p:1", title="P", document="P", edition="1", materials=("PE100",), marks=(Mark.SEEN,)
            ),
        ),
        sizes=(SizeChoice(table="iso-4065", key="outside_diameter", sizes=("63 mm",), sdrs=(11.0,)),),
        wall_rules=("dn/sdr",),
        kinds=("pipe",),
        options=("workshop-reduction",),
        operators=("R. Okafor",),
        projects=("Lindental",),
        last=LastJoint(project="Lindental", operator="R. Okafor", procedure="p:1", pipe=PIPE, pipe_b=None),
    ),
    "checklist-1.json": ChecklistMessage(
        joint_uuid=UUID,
        checks=(
            CheckModel(
                item=CheckCode.GAP,
                text="Gap: at most 0.5 mm.",
                unit="mm",
                limit=BandModel(min=None, target=None, max=0.5, source="a guide", mark=Mark.SEEN),
                source="a guide",
                mark=Mark.SEEN,
                cautions=("caution.closing_clamps",),
                said=SAID,
            ),
        ),
    ),
    "joints-1.json": JointList(joints=(SUMMARY,), is_more=True),
    "joint-1.json": JointDetail(
        summary=SUMMARY,
        ended_reason="released",
        claimed_by=None,
        claim_reason=None,
        plan=plan_model(PLAN),
        rig={"name": "rig-7"},
        events=(RecordedEvent(kind="phase", code="cooling", at_s=201.5, parameters={"cause": "in_band"}),),
        statements=(SAID,),
    ),
    "curve-1.json": CurveMessage(is_thinned=True, sample_count=9000, samples=SAMPLES),
}
