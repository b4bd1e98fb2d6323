"""Samples to bytes and back: the canonical bytes that are hashed, and their compressed form.

Canonical bytes, version 1. `u` is an unsigned LEB128 varint, `z` a signed one in zigzag form, both without
a limit of size; a name is its length as `u`, then ASCII. Columns follow one another without separators:

    u  number of samples n (nothing else follows when it is 0)
    u  number of quantities, then their names, in order of first appearance
    u  number of shapes, then each: u length, u quantity index ... ; a shape is which quantities a poll
       brought, in which order; shapes stand in order of first appearance
    z  t_ms of the first sample
    z  period: the lower median of the steps of t_ms
    u  shape index, n times
    z  step of t_ms less the period, n - 1 times
    z  half_width_ms, n times
    z  per quantity: raw less the quantity's raw before (0 before the first), once per reading

A reading that was not made takes no room and comes back as not made.
"""

import hashlib
import lzma
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from statistics import median_low

from logger.domain.channel import Quantity
from logger.domain.sample import RawReading, RawSample
from logger.errors import StoreError

CODEC = 1
"""Version of the canonical bytes; a change of layout is a new number beside the old one."""

_MEMORY_LIMIT = 64 * 1024 * 1024
# A dictionary of 256 KiB holds a whole block and spares the compressor most of its memory; the bytes have
# no alignment, hence pb 0.
_FILTERS = [{"id": lzma.FILTER_LZMA2, "preset": 6, "dict_size": 1 << 18, "pb": 0}]


def encode(samples: Sequence[RawSample]) -> bytes:
    """Return the canonical bytes; equal samples give equal bytes."""
    out = bytearray()
    _put_unsigned(out, len(samples))
    if not samples:
        return bytes(out)
    shape_of_sample = [tuple(reading.quantity for reading in sample.readings) for sample in samples]
    shapes = list(dict.fromkeys(shape_of_sample))
    quantities = list(dict.fromkeys(quantity for shape in shapes for quantity in shape))
    _put_unsigned(out, len(quantities))
    for quantity in quantities:
        _put_unsigned(out, len(quantity.value))
        out += quantity.value.encode("ascii")
    _put_unsigned(out, len(shapes))
    for shape in shapes:
        _put_unsigned(out, len(shape))
        for quantity in shape:
            _put_unsigned(out, quantities.index(quantity))
    steps = [after.t_ms - before.t_ms for before, after in pairwise(samples)]
    period_ms = median_low(steps) if steps else 0
    _put_signed(out, samples[0].t_ms)
    _put_signed(out, period_ms)
    index_of = {shape: index for index, shape in enumerate(shapes)}
    for shape in shape_of_sample:
        _put_unsigned(out, index_of[shape])
    _put_all_signed(out, (step - period_ms for step in steps))
    _put_all_signed(out, (sample.half_width_ms for sample in samples))
    for quantity in quantities:
        _put_deltas(out, [r.raw for sample in samples for r in sample.readings if r.quantity is quantity])
    return bytes(out)


def decode(data: bytes) -> list[RawSample]:
    """Return the samples of `encode`. Raises StoreError when the bytes are not a whole block."""
    columns = _columns_of(data)
    # A number that comes back is one value here too: most of a curve is made of few of them.
    readings = {
        quantity: map({raw: RawReading(quantity=quantity, raw=raw) for raw in set(raws)}.__getitem__, raws)
        for quantity, raws in columns.raws.items()
    }
    shapes = [[readings[quantity] for quantity in shape] for shape in columns.shapes]
    return [
        RawSample(t_ms=t_ms, half_width_ms=half_width_ms, readings=tuple(map(next, shapes[shape])))
        for t_ms, half_width_ms, shape in columns.polls
    ]


def lines(data: bytes) -> Iterator[bytes]:
    """Yield the lines of `evidence.lines_of` without making the samples. Raises StoreError like `decode`."""
    columns = _columns_of(data)
    texts = {quantity: map(f" {quantity}={{}}".format, raws) for quantity, raws in columns.raws.items()}
    shapes = [[texts[quantity] for quantity in shape] for shape in columns.shapes]
    for t_ms, half_width_ms, shape in columns.polls:
        yield f"{t_ms} {half_width_ms}{''.join(map(next, shapes[shape]))}\n".encode("ascii")


def sha256_of(canonical: bytes) -> str:
    """Return the hash that stands for the samples, in hexadecimal."""
    return hashlib.sha256(canonical).hexdigest()


def compress(canonical: bytes) -> bytes:
    """Return an xz stream; any xz tool reads it. Integrity rests on the hash of the canonical bytes."""
    return lzma.compress(canonical, format=lzma.FORMAT_XZ, check=lzma.CHECK_NONE, filters=_FILTERS)


def decompress(data: bytes) -> bytes:
    """Return the canonical bytes. Raises StoreError when the stream is damaged."""
    try:
        return lzma.decompress(data, format=lzma.FORMAT_XZ, memlimit=_MEMORY_LIMIT)
    except (lzma.LZMAError, EOFError) as err:
        raise StoreError(f"damaged block of samples: {err}") from err


class _Source:
    """Reads varints; raises IndexError past the end."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._at = 0

    @property
    def is_empty(self) -> bool:
        return self._at == len(self._data)

    def unsigned(self, count: int) -> list[int]:
        data, at = self._data, self._at
        values = []
        for _ in range(count):
            value = data[at]
            at += 1
            if value > 0x7F:
                value &= 0x7F
                shift = 7
                while True:
                    byte = data[at]
                    at += 1
                    value |= (byte & 0x7F) << shift
                    if byte < 0x80:
                        break
                    shift += 7
            values.append(value)
        self._at = at
        return values

    def signed(self, count: int) -> list[int]:
        return [-(folded + 1 >> 1) if folded & 1 else folded >> 1 for folded in self.unsigned(count)]

    def number(self) -> int:
        return self.unsigned(1)[0]

    def name(self) -> str:
        length = self.number()
        text = self._data[self._at : self._at + length].decode("ascii")
        self._at += length
        return text


@dataclass(frozen=True, slots=True)
class _Columns:
    """A block read: what each shape brings; time, half width and shape of each poll; raws by quantity."""

    shapes: list[list[Quantity]]
    polls: list[tuple[int, int, int]]
    raws: dict[Quantity, list[int]]


def _columns_of(data: bytes) -> _Columns:
    """Raises StoreError when the bytes are not a whole block."""
    source = _Source(data)
    try:
        columns = _columns_from(source)
    except (IndexError, ValueError, OverflowError) as err:
        raise StoreError(f"damaged block of samples: {err}") from err
    if not source.is_empty:
        raise StoreError("damaged block of samples: bytes left over")
    return columns


def _columns_from(source: _Source) -> _Columns:
    count = source.number()
    if count == 0:
        return _Columns([], [], {})
    quantities = [Quantity(source.name()) for _ in range(source.number())]
    shapes = [[quantities[k] for k in source.unsigned(source.number())] for _ in range(source.number())]
    (first_ms,), (period_ms,) = source.signed(1), source.signed(1)
    shape_of_poll = source.unsigned(count)
    steps_ms = (period_ms + step for step in source.signed(count - 1))
    times_ms = list(accumulate(steps_ms, initial=first_ms))
    polls = list(zip(times_ms, source.signed(count), shape_of_poll, strict=True))
    used = Counter(quantity for shape in shape_of_poll for quantity in shapes[shape])
    raws = {quantity: list(accumulate(source.signed(used[quantity]))) for quantity in quantities}
    return _Columns(shapes, polls, raws)


def _put_deltas(out: bytearray, raws: Sequence[int]) -> None:
    _put_all_signed(out, (after - before for before, after in pairwise([0, *raws])))


def _put_all_signed(out: bytearray, values: Iterable[int]) -> None:
    for value in values:
        _put_signed(out, value)


def _put_signed(out: bytearray, value: int) -> None:
    _put_unsigned(out, 2 * value if value >= 0 else -2 * value - 1)


def _put_unsigned(out: bytearray, value: int) -> None:
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
