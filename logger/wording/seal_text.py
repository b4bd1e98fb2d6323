"""What a seal says, for people and for the code on the page."""

from logger.domain.seal import ChainHead, JointSeal, SealState
from logger.wording.report_text import SealText
from logger.wording.verification_text import fingerprint_text

_USES = {"demonstration": "with the demonstration key", "live": "with the rig's key"}


def seal_text(seal: JointSeal, head: ChainHead | None) -> SealText:
    """Word the seal of one joint; the code holds its latest link and the head of its record's chain.

    The paper is the witness. The joint's own file holds the first of the two: nothing of the joint, and
    nothing said of it until then, can be left out. The record holds both: cut or rolled back it does not.
    """
    if seal.state is SealState.UNSEALED:
        return SealText(lines=("Unsealed: recorded before sealing, nothing can be shown about it.",))
    if seal.state is SealState.OPEN or seal.end is None or seal.last is None:
        return SealText(lines=("Not sealed yet: the joint is open.",))
    heads = [str(seal.last)]
    if head is not None and seal.is_local and str(head) != heads[0]:
        heads.append(str(head))
    place = "" if seal.is_local else ", imported from another record"
    return SealText(
        lines=(
            f"Sealed {seal.end.utc} {_USES.get(seal.use, seal.use)} {fingerprint_text(seal.key)}{place}.",
            f"Link of this joint {heads[0]}",
            *(f"Head of the record {one}" for one in heads[1:]),
            'Check: python verify_record.py FILE --key FINGERPRINT --head "TEXT": FILE is this joint\'s '
            "*.sealed.json or the record, TEXT what the code here holds; the fingerprint stands on the "
            "commissioning sheet.",
        ),
        witness=" ".join(heads),
    )
