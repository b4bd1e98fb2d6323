"""What a seal says, for people and for the code on the page."""

from logger.domain.seal import ChainHead, JointSeal, SealState
from logger.wording.report_text import SealText

_USES = {"demonstration": "with the demonstration key", "live": "with the rig's key"}


def seal_text(seal: JointSeal, head: ChainHead | None) -> SealText:
    """Word the seal of one joint; the code holds the head of the record's chain, or the joint's own end.

    The paper is the witness: a record cut or rolled back later no longer holds that head.
    """
    if seal.state is SealState.UNSEALED:
        return SealText(lines=("Unsealed: recorded before sealing, nothing can be shown about it.",))
    if seal.state is SealState.OPEN or seal.end is None:
        return SealText(lines=("Not sealed yet: the joint is open.",))
    witness = head if head is not None and seal.is_local else seal.end
    place = "" if seal.is_local else ", imported from another record"
    return SealText(
        lines=(
            f"Sealed {seal.end.utc} {_USES.get(seal.use, seal.use)} {seal.key}{place}.",
            f"End of this joint {seal.end}",
            f"Chain head {witness}",
            "Check: beadwatch joints verify, with this head and the fingerprint on the rig's own paper.",
        ),
        witness=str(witness),
    )
