"""The decision rules against conformity figures that others published, each with where it comes from."""

from collections.abc import Callable
from statistics import NormalDist

import numpy as np
import pytest

from logger.judge.case import at_least, at_most
from logger.judge.decision import (
    JOINT_RISK,
    Measured,
    chance_at_least,
    chance_at_most,
    chance_inside,
    coverage_factor,
)
from logger.judge.doubts import doubts_of
from tests.unit.judge.plans import SOURCE

NORMAL = NormalDist()


def integral(from_x: float, to_x: float, sp: float, accept: Callable[[float], float]) -> float:
    """Of N(0, sp) times `accept`, by Gauss and Legendre: both are smooth between the limits."""
    nodes, weights = np.polynomial.legendre.leggauss(120)
    half = (to_x - from_x) / 2
    x = from_x + half * (nodes + 1)
    values = [NormalDist(0.0, sp).pdf(float(v)) * accept(float(v)) for v in x]
    return float(half * np.dot(weights, values))


def risks(sp: float, um: float, limit: float, guarded: float) -> tuple[float, float]:
    """Global false accept and false reject of acceptance within `guarded`: process N(0, sp), meter um.

    The chance that a true value x is accepted is that of its reading, which our conformance probability gives
    with the roles of reading and truth exchanged.
    """

    def accept(x: float) -> float:
        return chance_inside(Measured(x, um), -guarded, guarded)

    false_accept = 2 * integral(limit, limit + 10 * um, sp, accept)
    false_reject = integral(-limit, limit, sp, lambda x: 1.0 - accept(x))
    return false_accept, false_reject


@pytest.mark.parametrize(
    ("reliability", "pfa_percent", "conditional_percent"),
    [
        (0.60, 4.838603, 8.260082),
        (0.70, 3.922341, 5.723220),
        (0.80, 2.855830, 3.632271),
        (0.90, 1.599953, 1.798804),
        (0.95, 0.871009, 0.923897),
        (0.99, 0.199917, 0.202439),
    ],
)
def test_risks_of_the_recommended_practice(reliability, pfa_percent, conditional_percent):
    """NCSLI RP-19, draft table, as encoded in sandialabs/suncal `test/test_risk.py` (seen).

    Process N(0, sp) in tolerance (+-1) with the given reliability, meter sp / 4, no guard band.
    """
    sp = 1 / NORMAL.inv_cdf((1 + reliability) / 2)
    pfa, _ = risks(sp, sp / 4, 1.0, 1.0)
    accepted = 2 * NormalDist(0, np.hypot(sp, sp / 4)).cdf(1.0) - 1
    assert 100 * pfa == pytest.approx(pfa_percent, abs=5e-6)
    assert 100 * pfa / accepted == pytest.approx(conditional_percent, abs=5e-6)


def test_risks_with_a_guard_band():
    """Deaver's case in the same file (seen): limits at 2 sigma, test uncertainty ratio 2, guard band 0.91."""
    pfa, pfr = risks(0.5, 0.25, 1.0, 0.91)
    assert pfa == pytest.approx(0.008, abs=5e-4)
    assert pfr == pytest.approx(0.066, abs=1e-3)


@pytest.mark.parametrize(
    ("confidence", "z"),
    [
        (0.80, 0.842),
        (0.90, 1.282),
        (0.95, 1.645),
        (0.975, 1.960),
        (0.99, 2.326),
        (0.995, 2.576),
        (0.999, 3.090),
    ],
)
def test_one_sided_guard_band_factors(confidence, z):
    """JCGM 106:2012, one-sided factors, recomputed from the normal distribution."""
    assert coverage_factor(Measured(0.0, 3.0), 1 - confidence) == pytest.approx(z, abs=5e-4)


def test_examples_of_jcgm_106():
    """Inputs from memory of JCGM 106:2012, outputs recomputed; printed 0.92, 0.99 and 107 km/h."""
    assert chance_at_most(Measured(-5.47, 0.05), -5.40) == pytest.approx(0.919, abs=5e-4)
    assert chance_at_least(Measured(509.7, 8.6), 490.0) == pytest.approx(0.989, abs=5e-4)
    # Speed: rejected once the chance of a true speed above 100 km/h is 99.9 %, u being 2 % of the reading.
    assert chance_at_most(Measured(106.6, 0.02 * 106.6), 100.0) == pytest.approx(0.001, abs=1e-4)


def test_the_resistors_of_jcgm_106():
    """1500 +- 0.2 ohm, process 0.12, meter 0.04: consumer's 1.89 %, producer's 3.72 % by plain acceptance.

    Inputs from memory of JCGM 106:2012, outputs recomputed.
    """
    accept_false, reject_false = risks(0.12, 0.04, 0.2, 0.2)
    assert 100 * accept_false == pytest.approx(1.89, abs=0.01)
    assert 100 * reject_false == pytest.approx(3.72, abs=0.01)


@pytest.mark.parametrize(
    ("y", "chance", "expected"),
    [
        (18.00, 1.0000, "pass"),
        (19.50, 0.9900, "pass"),
        (19.60, 0.9396, "undecided"),
        (19.79, 0.5309, "undecided"),
        (19.90, 0.2189, "undecided"),
        (20.00, 0.0604, "undecided"),
        (20.10, 0.0100, "fail"),
    ],
)
def test_the_worked_case_of_a_pressure_band(y, chance, expected):
    """Own case, computed: 16.2 to 19.8 bar, u = hypot(0.10, 0.04 / sqrt 12, 0.36 / sqrt 20) = 0.129 bar."""
    measured = Measured(y, float(np.hypot(np.hypot(0.10, 0.04 / 12**0.5), 0.36 / 20**0.5)))
    assert chance_inside(measured, 16.2, 19.8) == pytest.approx(chance, abs=1e-4)
    low, high = at_least("p.low", 16.2, "bar", SOURCE), at_most("p.high", 19.8, "bar", SOURCE)
    outcome = low.check(measured, 0.0, 1.0) + high.check(measured, 0.0, 1.0)
    undecided = doubts_of(outcome.weighed, 0.1)
    assert ("fail" if outcome.findings else "undecided" if undecided else "pass") == expected


LIMITS = 7
JOINTS = 400_000


@pytest.mark.parametrize("spread", [0.5, 1.0, 3.0, 10.0])
def test_bad_joints_pass_no_more_often_than_the_stated_risk(spread):
    """Monte Carlo over joints with seven limits, true values about them, normal errors of one unit each.

    The rule in numpy: each chance, their sum, 5 % for the joint. It is held to `doubts_of` below.
    """
    rng = np.random.default_rng(20_260_101)
    true_margin = rng.normal(1.0, spread, (JOINTS, LIMITS))
    passed = passes(true_margin + rng.normal(0.0, 1.0, true_margin.shape))
    bad = (true_margin < 0.0).any(axis=1)
    assert bad.sum() > 10_000
    assert passed[bad].mean() <= JOINT_RISK


def test_a_joint_at_the_edge_passes_just_as_often_as_stated():
    """One limit broken by a hair, the others kept for certain: the worst case reaches the risk, not more."""
    rng = np.random.default_rng(7)
    true_margin = np.full((JOINTS, LIMITS), 100.0)
    true_margin[:, 3] = -1e-9
    passed = passes(true_margin + rng.normal(0.0, 1.0, true_margin.shape))
    assert passed.mean() == pytest.approx(JOINT_RISK, abs=4 * (JOINT_RISK / JOINTS) ** 0.5)


def test_among_joints_that_pass_the_bad_ones_are_no_more_than_stated():
    """Seen from the reading, with nothing known beforehand: the chances of limits broken, summed."""
    rng = np.random.default_rng(11)
    measured = rng.uniform(-1.0, 6.0, (JOINTS, LIMITS))
    true_margin = measured + rng.normal(0.0, 1.0, measured.shape)
    passed = passes(measured)
    assert passed.sum() > 10_000
    assert (true_margin[passed] < 0.0).any(axis=1).mean() <= JOINT_RISK


def passes(margins: np.ndarray) -> np.ndarray:
    """Which joints pass, given measured margins in standard uncertainties."""
    grid = np.linspace(-12.0, 12.0, 4_801)
    table = np.array([1.0 - NORMAL.cdf(float(m)) for m in grid])
    # Rounded towards the riskier side of the table, so that the shortcut cannot flatter the rule.
    at = np.clip(np.floor((margins + 12.0) / 0.005).astype(int), 0, 4_800)
    return table[at].sum(axis=1) <= JOINT_RISK


def test_the_shortcut_in_numpy_is_the_rule():
    rng = np.random.default_rng(3)
    margins = rng.uniform(-0.5, 4.5, (300, LIMITS))
    limits = [at_most(f"x{k}.duration.long", 0.0, "s", SOURCE) for k in range(LIMITS)]
    for row, passed in zip(margins, passes(margins), strict=True):
        outcomes = [
            limit.check(Measured(-float(m), 1.0), 0.0, 1.0) for limit, m in zip(limits, row, strict=True)
        ]
        weighed = [one for outcome in outcomes for one in outcome.weighed]
        ok = not any(outcome.findings for outcome in outcomes) and not doubts_of(weighed, 0.1)
        total = sum(1.0 - NORMAL.cdf(float(m)) for m in row)
        if abs(total - JOINT_RISK) > 0.01:
            assert ok == passed
