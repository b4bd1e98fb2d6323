"""What the record holds beside the samples: who, when, which joint, how it ended, what happened."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from logger.domain.judgement import Judgement, Verdict
from logger.domain.rig import Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """One instant on both clocks.

    `mono_ms` counts on the monotonic clock of the boot; `utc` is ISO 8601 with `Z` and is a label only:
    `utc_verified` is False until the clock of the machine is known to be set.
    """

    mono_ms: int
    utc: str
    utc_verified: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RecorderRun:
    """One start of the recorder. `boot_id` tells whether `mono_ms` of two runs may be compared."""

    boot_id: str
    started: Stamp
    software: str
    time_scale: float
    clock_source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LastRun:
    """The latest run: `ended` is None after a kill, then `alive` is the last sign of life."""

    run: RecorderRun
    ended: Stamp | None
    end_reason: str
    alive: Stamp | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecorderOff:
    """An interval in which nothing could be recorded."""

    from_utc: str
    to_utc: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JointHeader:
    """A joint as it was opened; nothing in it changes later.

    `number` is None for a joint nobody announced: it is claimed later. The texts are kept as they were
    given: `rig_json` is the rig in its canonical form, `plan_json` the plan as emitted.
    """

    uuid: str
    number: str | None
    project: str
    operator: str
    rig_json: str
    rig_toml: str
    joint_toml: str | None
    procedure: str | None
    plan_json: str | None
    origin: Origin
    time_scale: float
    opened: Stamp
    boot_id: str

    @property
    def config_sha256(self) -> str:
        """The SHA-256 over the texts that the joint was recorded by: rig file, joint file, plan."""
        texts = (self.rig_toml, self.joint_toml or "", self.plan_json or "")
        return hashlib.sha256(b"".join(f"{len(t.encode())}:{t}".encode() for t in texts)).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A name given afterwards to an unnamed joint, with the reason."""

    number: str
    project: str
    claimed_by: str
    reason: str
    at: Stamp


FIGURES = "figures_confirmed"
"""Kind of a statement about no joint: somebody held a procedure's figures against a copy of the document."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What somebody put on record beside the samples; never changed, only followed by another.

    `kind` names what `body` is, which holds only what JSON holds; `joint_uuid` is None for a statement about
    no joint. `at_s` is on the joint's own clock, None when the joint was not open. `seq` counts those about
    one joint in one record from 1, and `chain` names the record it was made in; the store gives both.
    """

    kind: str
    author: str
    at: Stamp
    body: Mapping[str, Any]
    joint_uuid: str | None = None
    reason: str = ""
    at_s: float | None = None
    seq: int = 0
    chain: str = ""


class HowEnded(StrEnum):
    """How the recording of a joint came to its end."""

    FINISHED = "finished"
    ABORTED = "aborted"
    INTERRUPTED = "interrupted"


@dataclass(frozen=True, slots=True, kw_only=True)
class JointEnd:
    how: HowEnded
    reason: str
    at: Stamp


class EventKind(StrEnum):
    """What sort of thing happened while recording."""

    PHASE = "phase"
    """A boundary as called online: provisional, the judgement may move it."""
    HEALTH = "health"
    GAP = "gap"
    COMMAND = "command"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordEvent:
    """One event. `t_ms` is on the joint's own clock; `at` is None for what the store itself noted."""

    kind: EventKind
    code: str
    at: Stamp | None = None
    t_ms: int | None = None
    parameters: Mapping[str, str | float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class EmittedJudgement:
    """A judgement and its JSON text exactly as emitted; the record keeps both."""

    judgement: Judgement
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JointRecord:
    """One joint of the record; `number` to `previous_uuid` hold the claim where there is one.

    Attempt 2 and later link to the attempt before. `end` is None while the joint is open;
    `judgement_text` is the original judgement, None where none was made.
    """

    header: JointHeader
    run: RecorderRun
    """The start of the recorder in which the joint was opened: software and clock source."""
    number: str | None
    project: str
    attempt: int
    previous_uuid: str | None
    claim: Claim | None
    end: JointEnd | None
    verdict: Verdict | None
    judgement_text: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenJoint:
    """A joint without an end, as found after a kill. `last_t_ms` is its last sample, None without any."""

    record: JointRecord
    last_t_ms: int | None
    sample_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreHealth:
    """`error` is empty while commits succeed; `pending` samples wait in memory, `dropped` found no room."""

    error: str
    pending: int
    dropped: int

    @property
    def is_good(self) -> bool:
        return not self.error
