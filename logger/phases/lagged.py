"""A step or a ramp seen through two lags: its least squares for every onset of a grid, in closed form.

All sums run from the end of the window, where the exponentials are smallest: what follows an onset keeps all
its digits. Plain floats.
"""

from collections.abc import Iterable, Sequence
from itertools import accumulate
from math import exp
from operator import mul
from typing import NamedTuple

LEAST_RESPONSE = 1e-5
"""Sum of squares under which a response is rounding error: its onset lies behind the last reading."""
SAME = 1e-9


class Cut(NamedTuple):
    """An onset to try, relative to the window's first reading, and how many readings follow it."""

    onset_s: float
    after: int


class Fit(NamedTuple):
    rss: float
    onset_s: float


class Shape(NamedTuple):
    """What begins at the onset: a ramp or a step, through a transmitter's lag and a valve's, never equal."""

    tau_s: float
    valve_s: float
    head_s: float | None = 0.0
    """By how long a ramp is ahead at once, before any valve: faces that meet at speed press that moment.
    None for a step.
    """

    @property
    def line(self) -> tuple[float, float]:
        """The response's straight part, as level at the onset and slope."""
        return (1.0, 0.0) if self.head_s is None else (self.head_s - self.tau_s - self.valve_s, 1.0)

    @property
    def tails(self) -> tuple[float, float]:
        """Coefficients of exp(-since / tau) and exp(-since / valve)."""
        tau, valve = self.tau_s, self.valve_s
        if self.head_s is None:
            return tau / (valve - tau), valve / (tau - valve)
        return tau * tau / (tau - valve) - self.head_s, valve * valve / (valve - tau)

    def at(self, since_s: float) -> float:
        """The response so long after its onset."""
        if since_s <= 0.0:
            return 0.0
        (level, slope), (a, b) = self.line, self.tails
        return level + slope * since_s + a * exp(-since_s / self.tau_s) + b * exp(-since_s / self.valve_s)


class Prior(NamedTuple):
    """What is known beforehand, as readings that count `weight` times (level) or `slope` times (no slope)."""

    slope: float
    weight: float
    level: float


class _Tail(NamedTuple):
    """Suffix sums with e = exp(-(t - reference) / lag) from the reference on: e, te, e², ve."""

    each: list[float]
    e: list[float]
    te: list[float]
    ee: list[float]
    ve: list[float]


def _suffix(values: Iterable[float]) -> list[float]:
    return list(accumulate(values, initial=0.0))


class Window:
    """One stretch of readings, relative to the first of them, with the sums that every fit needs."""

    def __init__(
        self, times: Sequence[float], values: Sequence[float], reference_s: float, prior: Prior
    ) -> None:
        self.reference_s, self.prior = reference_s, prior
        self.t, self.v = list(reversed(times)), list(reversed(values))
        self.n = len(self.t)
        self.st, self.stt = _suffix(self.t), _suffix(map(mul, self.t, self.t))
        self.sv, self.stv = _suffix(self.v), _suffix(map(mul, self.t, self.v))
        self.total = self.n + prior.weight
        self.sum_v = self.sv[-1] + prior.weight * prior.level
        self.square_v = sum(map(mul, self.v, self.v)) + prior.weight * prior.level**2
        self._tails: dict[float, _Tail] = {}
        self._bases: dict[float | None, _Basis] = {}

    def _tail(self, lag_s: float) -> _Tail:
        if lag_s not in self._tails:
            since = (t - self.reference_s for t in self.t)
            e = [exp(-x / lag_s) if x >= 0.0 else 0.0 for x in since]
            self._tails[lag_s] = _Tail(
                e,
                _suffix(e),
                _suffix(map(mul, self.t, e)),
                _suffix(map(mul, e, e)),
                _suffix(map(mul, self.v, e)),
            )
        return self._tails[lag_s]

    def _basis(self, shape: Shape, *, settling: bool) -> "_Basis":
        tail_s = shape.tau_s if settling else None
        if tail_s not in self._bases:
            self._bases[tail_s] = _Basis(self, tail_s)
        return self._bases[tail_s]

    def fits(self, shape: Shape, cuts: Sequence[Cut], *, settling: bool) -> list[Fit]:
        """Residual sums of squares, level and slope (or tail) before the onset and amplitude fitted."""
        basis = self._basis(shape, settling=settling)
        tau, valve = self._tail(shape.tau_s), self._tail(shape.valve_s)
        ef = _suffix(map(mul, tau.each, valve.each))
        (level, p1), (a_0, b_0) = shape.line, shape.tails
        g11, g12, g22, c1, c2 = basis.g11, basis.g12, basis.g22, basis.level, basis.slope
        found = []
        for onset, m in cuts:
            p0 = level - p1 * onset
            a = a_0 * exp((onset - self.reference_s) / shape.tau_s)
            b = b_0 * exp((onset - self.reference_s) / shape.valve_s)
            e, f, te, tf, mt = tau.e[m], valve.e[m], tau.te[m], valve.te[m], self.st[m]
            q, qt = a * e + b * f, a * te + b * tf
            r = p0 * m + p1 * mt + q
            rv = p0 * self.sv[m] + p1 * self.stv[m] + a * tau.ve[m] + b * valve.ve[m]
            rr = p0 * p0 * m + 2 * p0 * p1 * mt + p1 * p1 * self.stt[m] + 2 * (p0 * q + p1 * qt)
            rr += a * a * tau.ee[m] + 2 * a * b * ef[m] + b * b * valve.ee[m]
            if rr < LEAST_RESPONSE:
                continue
            if settling:
                cross = basis.tail * (p0 * e + p1 * te + a * tau.ee[m] + b * ef[m])
            else:
                cross = p0 * mt + p1 * self.stt[m] + qt
            left = rr - g11 * r * r - 2 * g12 * r * cross - g22 * cross * cross
            if left > SAME * rr:
                along = rv - c1 * r - c2 * cross
                found.append(Fit(max(basis.rss - along * along / left, 0.0), onset))
        return found

    def rest(self, shape: Shape, onset_s: float, *, settling: bool) -> list[float]:
        """What that fit leaves of each reading, in order of time."""
        basis = self._basis(shape, settling=settling)
        before = [exp(-t / shape.tau_s) for t in self.t] if settling else self.t
        response = [shape.at(t - onset_s) for t in self.t]
        r, cross = sum(response), sum(map(mul, response, before))
        left = sum(map(mul, response, response))
        left -= basis.g11 * r * r + 2 * basis.g12 * r * cross + basis.g22 * cross * cross
        along = sum(map(mul, response, self.v)) - basis.level * r - basis.slope * cross
        change = along / left if left > 0.0 else 0.0
        level = basis.level - change * (basis.g11 * r + basis.g12 * cross)
        slope = basis.slope - change * (basis.g12 * r + basis.g22 * cross)
        rest = (v - level - slope * x - change * y for v, x, y in zip(self.v, before, response, strict=True))
        return list(rest)[::-1]


class _Basis:
    """Level and slope (or the tail of the stroke before) without any onset: their fit and projection."""

    def __init__(self, window: Window, tail_s: float | None) -> None:
        if tail_s is None:
            second, square = window.st[-1], window.stt[-1] + window.prior.slope
            product = window.stv[-1]
        else:
            tails = [exp(-t / tail_s) for t in window.t]
            self.tail = exp(-window.reference_s / tail_s)
            second, square = sum(tails), sum(map(mul, tails, tails))
            product = sum(map(mul, tails, window.v))
        spread = window.total * square - second * second
        if spread <= SAME * window.total * square:
            self.g11, self.g12, self.g22 = 1.0 / window.total, 0.0, 0.0
        else:
            self.g11, self.g12, self.g22 = square / spread, -second / spread, window.total / spread
        self.level = self.g11 * window.sum_v + self.g12 * product
        self.slope = self.g12 * window.sum_v + self.g22 * product
        self.rss = window.square_v - self.level * window.sum_v - self.slope * product
