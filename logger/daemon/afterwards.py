"""What is put on record afterwards, whoever holds the writer: the recorder, or a command when it is down."""

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from logger.daemon.clock import MachineClock
from logger.daemon.joint_files import claim_of
from logger.daemon.statements import OPINION
from logger.domain.record import FIGURES, Statement
from logger.errors import InputError, StoreError
from logger.store.attachments import ATTACHMENT, folder_of
from logger.store.keys import KeyUse
from logger.store.sealed import SealedJoint, verify_sealed
from logger.store.writer import Writer
from logger.wire.afterwards import (
    AttachmentCommand,
    Confirmed,
    CorrectionCommand,
    FiguresCommand,
    ImportCommand,
    Imported,
    KeyRenewalCommand,
    OpinionCommand,
    RenewedKey,
)
from logger.wire.desk import Said
from logger.wire.judgement import judgement_from_json
from logger.wire.live import Accepted, ClaimCommand
from logger.wording.verification_text import fault_text


class Afterwards:
    """Each method waits for the disk. Raises InputError or StoreError; then nothing of it is stored."""

    def __init__(self, writer: Writer, store: Path, clock: MachineClock) -> None:
        self._writer = writer
        self._store = store
        self._clock = clock

    def claim(self, command: ClaimCommand) -> Accepted:
        attempt = self._writer.claim_joint(command.joint_uuid, claim_of(command, self._clock))
        return Accepted(joint_uuid=command.joint_uuid, attempt=attempt)

    def correct(self, command: CorrectionCommand) -> Said:
        body = {"what": command.what, "value": command.value}
        return self._say("correction", command, body)

    def attach(self, command: AttachmentCommand) -> Said:
        """Raises InputError where the copy is not there or is not the file that the hash means."""
        copy = folder_of(self._store) / command.copy_name
        try:
            data = copy.read_bytes()
        except OSError as error:
            raise InputError(error.strerror or str(error), file=str(copy)) from error
        if hashlib.sha256(data).hexdigest() != command.sha256:
            raise InputError("is not the file that was to be attached: its hash is another", file=str(copy))
        body = {
            "file": command.file, "copy": command.copy_name, "sha256": command.sha256, "bytes": len(data),
        }  # fmt: skip
        return self._say(ATTACHMENT, command, body)

    def opine(self, command: OpinionCommand) -> Said:
        """Raises InputError where the judgement cannot be read or has another verdict."""
        if judgement_from_json(command.judgement_json).verdict is not command.verdict:
            raise InputError("the verdict is not that of the judgement", key="verdict")
        body = {
            "terms": command.terms,
            "verdict": command.verdict.value,
            "judgement_json": command.judgement_json,
        }
        return self._say(OPINION, command, body)

    def take_over(self, command: ImportCommand) -> Imported:
        """Verify a sealed joint of another record and import what is new of it."""
        found = verify_sealed(command.sealed, trusted=command.keys)
        if not found.is_good:
            raise StoreError(fault_text(found.faults[0]))
        joint = SealedJoint.read(command.sealed)
        return Imported(
            joint_uuid=joint.uuid, new_links=self._writer.import_joint(joint, self._clock.stamp())
        )

    def confirm_figures(self, command: FiguresCommand) -> Confirmed:
        """Nothing of it changes a verdict; it says who vouches for the figures that verdicts rest on."""
        body = command.model_dump(include={"procedure", "digest", "document", "copy_sha256"})
        statement = Statement(
            kind=FIGURES, author=command.by, reason=command.reason, at=self._clock.stamp(), body=body
        )
        return Confirmed(seq=self._writer.append_statement(statement))

    def renew_key(self, command: KeyRenewalCommand) -> RenewedKey:
        """The new key seals from here on; who renewed it and why is a statement about no joint."""
        at = self._clock.stamp()
        fingerprint = self._writer.renew_key(KeyUse(command.use), at)
        body = {"use": command.use, "fingerprint": fingerprint}
        self._writer.append_statement(
            Statement(kind="key_renewal", author=command.by, reason=command.reason, at=at, body=body)
        )
        return RenewedKey(use=command.use, fingerprint=fingerprint)

    def _say(
        self,
        kind: str,
        command: CorrectionCommand | AttachmentCommand | OpinionCommand,
        body: Mapping[str, Any],
    ) -> Said:
        statement = Statement(
            kind=kind,
            author=command.by,
            reason=command.reason,
            at=self._clock.stamp(),
            joint_uuid=command.joint_uuid,
            body=body,
        )
        return Said(joint_uuid=command.joint_uuid, seq=self._writer.append_statement(statement))
