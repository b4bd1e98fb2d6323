"""What a seal says: where a joint stands in the chain of its record, and what a verification found."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Self

_HEAD = re.compile(r"([0-9a-f]{32}):([1-9][0-9]{0,15}):([0-9a-f]{64})")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainHead:
    """One link of a chain, named so that paper can witness it; `utc` is a label and no part of the name."""

    chain: str
    seq: int
    hash: str
    utc: str = ""

    def __str__(self) -> str:
        return f"{self.chain}:{self.seq}:{self.hash}"

    @classmethod
    def read(cls, text: str) -> Self:
        """Read what `str` gives. Raises ValueError when the text is something else."""
        found = _HEAD.fullmatch(text.strip().lower())
        if not found:
            raise ValueError(
                f'"{text}" is no chain head: 32 hex digits, a number and 64 hex digits, with colons'
            )
        return cls(chain=found[1], seq=int(found[2]), hash=found[3])

    @classmethod
    def read_all(cls, text: str) -> tuple[Self, ...]:
        """Read the heads of one paper: one or more with space between them. Raises ValueError."""
        return tuple(cls.read(word) for word in text.split() or [""])


class SealState(StrEnum):
    """How far a joint is sealed."""

    UNSEALED = "unsealed"
    """From before sealing: nothing can be shown about it, and it is never signed afterwards."""
    OPEN = "open"
    """Still recorded: sealed up to its last minute."""
    SEALED = "sealed"


@dataclass(frozen=True, slots=True, kw_only=True)
class JointSeal:
    """The seal of one joint as the record has it, not verified.

    `end` is the link that sealed its end, `last` the latest link about it in the same chain: a statement made
    later has one of its own.
    """

    state: SealState
    end: ChainHead | None = None
    last: ChainHead | None = None
    key: str = ""
    """Fingerprint of the key that signed."""
    use: str = ""
    """"live" or "demonstration"."""
    minute_count: int = 0
    is_local: bool = True
    """False for a joint imported from another record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that a sealed record cannot have; `where` names the joint or file."""

    code: str
    where: str = ""
    parameters: Mapping[str, str | int] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class Verification:
    """What was checked and what was found; `notes` are no faults."""

    joint_count: int = 0
    link_count: int = 0
    keys: dict[str, set[str]] = field(default_factory=dict)
    """Fingerprints of the keys that signed, with what each signed."""
    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)

    @property
    def is_good(self) -> bool:
        return not self.faults and self.link_count > 0
