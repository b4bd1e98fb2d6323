"""A stored verdict beside one formed under other terms."""

from dataclasses import dataclass

from logger.domain.channel import Channel
from logger.domain.judgement import Judgement, Severity
from logger.domain.record import JointRecord
from logger.wording.events import VERDICT_NAMES
from logger.wording.joint_list_text import joint_label


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What is judged otherwise than it was; the default is nothing.

    `channels` are those of a rig file as it should have been, with its name and hash: a raw number then means
    what they say.
    """

    procedure: str = ""
    channels: tuple[Channel, ...] | None = None
    rig_file: str = ""
    rig_sha256: str = ""
    pressure_offset_bar: float = 0.0
    plain: bool = False


def terms_text(terms: Terms) -> str:
    """Say under which terms a curve is judged again."""
    parts = []
    if terms.procedure:
        parts.append(f"under {terms.procedure}")
    if terms.channels is not None:
        parts.append(f"with the channels of {terms.rig_file} (SHA-256 {terms.rig_sha256[:16]}...)")
    if terms.pressure_offset_bar:
        parts.append(f"with {terms.pressure_offset_bar:+g} bar added to every pressure")
    if terms.plain:
        parts.append("compared plainly, without the declared uncertainties")
    return "Judged again " + (", ".join(parts) if parts else "under the terms of the record")


def comparison_text(record: JointRecord, judgement: Judgement) -> str:
    """One line: the stored verdict first, it stays the verdict of the joint."""
    stored = "none" if record.verdict is None else VERDICT_NAMES[record.verdict]
    faults = sorted({f.code for f in judgement.findings if f.severity is Severity.FAULT})
    codes = f" ({', '.join(faults)})" if faults else ""
    return f"{joint_label(record):20} stored: {stored:16} again: {VERDICT_NAMES[judgement.verdict]}{codes}"
