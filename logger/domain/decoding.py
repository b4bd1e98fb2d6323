"""Every reading that a row of registers allows, so that a person sees the right one. Pure."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from logger.domain.channel import FLOATS, WORDS_OF, DataType, WordOrder, number_in

_LEAST, _GREATEST = 1e-6, 1e9
_FACTORS = (1.0, 0.1, 0.01, 0.001, 10.0)
_ONE_WORD = (WordOrder.ABCD, WordOrder.BADC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoding:
    """What the registers from `address` (0-based) mean if they are of this type and order."""

    address: int
    data_type: DataType
    word_order: WordOrder
    number: int | float

    @property
    def is_plausible(self) -> bool:
        """Whether a sensor could mean it: a float that is not finite or absurdly large or small is none."""
        if self.data_type not in FLOATS:
            return True
        return math.isfinite(self.number) and (self.number == 0 or _LEAST <= abs(self.number) <= _GREATEST)


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """A decoding that, times `factor`, is the value a person expects; `error` is its relative distance."""

    decoding: Decoding
    factor: float
    error: float


def decodings_of(words: Sequence[int], first_address: int) -> Iterator[Decoding]:
    """Yield every type and order at every address as far as the registers reach, one-word types first."""
    for data_type in sorted(set(DataType) - {DataType.COUNT}, key=lambda one: (WORDS_OF[one], one)):
        width = WORDS_OF[data_type]
        for start, order in product(range(len(words) - width + 1), orders_of(data_type)):
            raw = 0
            for word in words[start : start + width]:
                raw = raw << 16 | word
            yield Decoding(
                address=first_address + start,
                data_type=data_type,
                word_order=order,
                number=number_in(raw, data_type, order),
            )


def orders_of(data_type: DataType) -> tuple[WordOrder, ...]:
    """Return the orders that differ: one register has two bytes and no words to swap."""
    return _ONE_WORD if WORDS_OF[data_type] == 1 else tuple(WordOrder)


def matches_of(
    words: Sequence[int], first_address: int, expected: float, tolerance: float = 0.02
) -> list[Match]:
    """Return the decodings within a relative `tolerance` of `expected`, the simplest first.

    Narrower types come before wider ones, an unscaled number before a scaled one, then the nearer. A number
    whose scaled step is coarser than the expected value says nothing and is left out.
    """
    found = []
    for decoding, factor in product(decodings_of(words, first_address), _FACTORS):
        if factor != 1.0 and decoding.data_type in FLOATS:
            continue
        error = abs(decoding.number * factor - expected) / (abs(expected) or 1.0)
        if error <= tolerance and decoding.number != 0:
            found.append(Match(decoding=decoding, factor=factor, error=error))
    return sorted(found, key=lambda m: (m.factor != 1.0, WORDS_OF[m.decoding.data_type], round(m.error, 4)))
