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
from collections.abc import Iterable, Sequence
from itertools import pairwise
from statistics import median_low

from logger.domain.channel import Quantity
from logger.domain.sample import RawReading, RawSample
from logger.errors import StoreError

CODEC = 1
"""Version of the canonical bytes; a change of layout is a new number beside the old one."""

_MEMORY_LIMIT = 64 * 1024 * 1024
# A dictionary of 1 MiB holds a whole block and spares the compressor most of its memory; the bytes have
# no alignment, hence pb 0.
_FILTERS = [{"id": lzma.FILTER_LZMA2, "preset": 6, "dict_size": 1 << 20, "pb": 0}]


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
    source = _Source(data)
    try:
        samples = _samples_of(source)
    except (IndexError, ValueError) as err:
        raise StoreError(f"damaged block of samples: {err}") from err
    if not source.is_empty:
        raise StoreError("damaged block of samples: bytes left over")
    return samples


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

    def unsigned(self) -> int:
        value = shift = 0
        while True:
            byte = self._data[self._at]
            self._at += 1
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                return value
            shift += 7

    def signed(self) -> int:
        folded = self.unsigned()
        return -(folded + 1 >> 1) if folded & 1 else folded >> 1

    def name(self) -> str:
        length = self.unsigned()
        text = self._data[self._at : self._at + length].decode("ascii")
        self._at += length
        return text


def _samples_of(source: _Source) -> list[RawSample]:
    count = source.unsigned()
    if count == 0:
        return []
    quantities = [Quantity(source.name()) for _ in range(source.unsigned())]
    shapes = [
        [quantities[source.unsigned()] for _ in range(source.unsigned())] for _ in range(source.unsigned())
    ]
    t_ms = source.signed()
    period_ms = source.signed()
    shape_of_sample = [shapes[source.unsigned()] for _ in range(count)]
    times_ms = [t_ms]
    for _ in range(count - 1):
        t_ms += period_ms + source.signed()
        times_ms.append(t_ms)
    half_widths_ms = [source.signed() for _ in range(count)]
    raws = {
        quantity: iter(_raws(source, sum(shape.count(quantity) for shape in shape_of_sample)))
        for quantity in quantities
    }
    return [
        RawSample(
            t_ms=t_ms,
            half_width_ms=half_width_ms,
            readings=tuple(RawReading(quantity=quantity, raw=next(raws[quantity])) for quantity in shape),
        )
        for t_ms, half_width_ms, shape in zip(times_ms, half_widths_ms, shape_of_sample, strict=True)
    ]


def _raws(source: _Source, count: int) -> list[int]:
    raws = []
    raw = 0
    for _ in range(count):
        raw += source.signed()
        raws.append(raw)
    return raws


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
