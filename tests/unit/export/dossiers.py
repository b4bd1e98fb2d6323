"""A dossier as the record would give it, from a simulated curve and by hand."""

from pathlib import Path

from logger.cli.plan import planned
from logger.config.trace_file import load_trace
from logger.domain.dossier import Dossier
from logger.domain.record import HowEnded, JointEnd, JointHeader, JointRecord, RecorderRun, Stamp, Statement
from logger.domain.rig import Origin, Rig
from logger.domain.seal import ChainHead, JointSeal, SealState
from logger.judge.judge import judge

OPENED = Stamp(mono_ms=1_000, utc="2031-05-04T07:00:00.000Z")
HEAD = ChainHead(chain="ab" * 16, seq=7, hash="4f" * 32, utc="2031-05-04T07:15:00.000Z")
LAST = ChainHead(chain="ab" * 16, seq=6, hash="5e" * 32, utc="2031-05-04T07:15:00.000Z")
SEAL = JointSeal(
    state=SealState.SEALED, end=LAST, last=LAST, key="SHA256:abc", use="demonstration", minute_count=15
)
OPERATOR = "Ş. Çağrı Ørsted-Łuk"


def dossier_of_trace(trace: Path, joint_file: Path, statements: tuple[Statement, ...] = ()) -> Dossier:
    result = planned(joint_file, None)
    samples = tuple(load_trace(trace))
    judgement = judge(samples, joint=result.joint.joint, plan=result.plan, rig=None)
    header = JointHeader(
        uuid="00000000-0000-4000-8000-000000000001",
        number=result.joint.joint,
        project="Lindental",
        operator=OPERATOR,
        rig_json="{}",
        rig_toml="",
        joint_toml=None,
        procedure=result.joint.procedure,
        plan_json=None,
        origin=Origin.SIMULATED,
        time_scale=10.0,
        opened=OPENED,
        boot_id="boot-1",
    )
    record = JointRecord(
        header=header,
        run=RecorderRun(
            boot_id="boot-1",
            started=OPENED,
            software="0.1.0",
            time_scale=10.0,
            clock_source="CLOCK_MONOTONIC",
        ),
        number=header.number,
        project=header.project,
        attempt=1,
        previous_uuid=None,
        claim=None,
        end=JointEnd(how=HowEnded.FINISHED, reason="released", at=OPENED),
        verdict=judgement.verdict,
        judgement_text=None,
    )
    return Dossier(
        record=record,
        rig=Rig(name="rig of the test"),
        joint=result.joint,
        judgement=judgement,
        raws=(),
        samples=samples,
        events=(),
        statements=statements,
        seal=SEAL,
        head=HEAD,
    )
