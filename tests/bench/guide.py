"""The benchmark's result as the Markdown that stands in the contributor guide under "Measured"."""

from collections.abc import Iterator, Sequence
from statistics import median

from tests.bench.figures import Placed, accuracy, percent, wilson
from tests.bench.report import DECLARED_K, GOAL_S, GROSS_S, declared, placed
from tests.bench.run import Edge, Result, without_plan
from tests.bench.truth import BOUNDARIES

NAMES = {
    "bead_up.start": "bead-up start",
    "heat_soak.start": "heat soak start",
    "changeover.start": "changeover start",
    "pressure_build_up.start": "pressure build-up start",
    "cooling.start": "cooling start",
    "cooling.end": "cooling end",
}


def guide(results: Sequence[Result]) -> Iterator[str]:
    """Boundaries, what is declared visible, trace models, findings as tables; verdicts and cost in words."""
    for part in (_boundaries, _goals, _models, _phases, _findings, _summary):
        yield from part(results)
        yield ""


def _head(*columns: str) -> Iterator[str]:
    yield f"| {' | '.join(columns)} |"
    yield "|" + "---|" * len(columns)


def _boundaries(results: Sequence[Result]) -> Iterator[str]:
    yield from _head(
        "boundary",
        "placed",
        "within 0.1 s",
        "within 0.2 s",
        "bias s",
        "90 / 95 / 99 % intervals cover",
        "thresholds within 0.2 s",
        "ruptures within 0.2 s",
    )
    for name in (*BOUNDARIES, None):
        names = BOUNDARIES if name is None else (name,)
        found = accuracy([p for one in names for p in placed(results, one)])
        cover = " / ".join(percent(share) for share in found.coverage.values())
        beside = [_beside(results, names, method) for method in ("thresholds", "ruptures")]
        shares = f"{percent(found.within_01)} % | {percent(found.within_02)} %"
        label = "all" if name is None else NAMES[name]
        yield f"| {label} | {found.n} | {shares} | {found.bias_s:.3f} | {cover} | {beside[0]} | {beside[1]} |"


def _beside(results: Sequence[Result], names: Sequence[str], method: str) -> str:
    pairs = [
        (result.baselines[method][edge.name], edge.true_s)
        for result in results
        if method in result.baselines
        for edge in result.edges
        if edge.name in names
    ]
    other = accuracy([Placed(at_s - true_s, None) for at_s, true_s in pairs if at_s is not None])
    return f"{percent(other.within_02)} % ({other.n})" if other.n else "-"


def _goals(results: Sequence[Result]) -> Iterator[str]:
    yield from _head(
        "noise up to 1 %",
        "goal",
        "declared visible",
        "within the goal (95 % bounds)",
        "others placed",
        "inside their 95 % interval",
    )
    for rate_hz, goal_s in GOAL_S.items():
        part = [r for r in results if r.joint.rate_hz == rate_hz and r.joint.noise_share <= 0.01]
        edges = [edge for result in part for edge in result.edges if edge.error_s is not None]
        promised = [edge for edge in edges if declared(edge, goal_s)]
        others = [edge for edge in edges if not declared(edge, goal_s)]
        inside = _bounds(sum(abs(e.error_s or 0.0) <= goal_s + 1e-9 for e in promised), len(promised))
        covered = accuracy([Placed(e.error_s or 0.0, e.u_s) for e in others]).coverage[95]
        row = f"{rate_hz:g} Hz, {len(part)} joints | {goal_s} s | {len(promised)} | {inside}"
        yield f"| {row} | {len(others)} | {percent(covered)} % |"
    yield ""
    yield (
        f"Declared visible: {DECLARED_K:g} standard uncertainties as stated fit into the goal, the edge "
        "stands out by 3.6 sigma of the noise or shows at the carriage, no gap within 1 s."
    )


def _models(results: Sequence[Result]) -> Iterator[str]:
    yield from _head("traces", "joints", "boundaries within 0.2 s", "90 / 95 / 99 % intervals cover")
    for label, is_sketched in (("simulated rig", False), ("sketched from curves", True)):
        part = [result for result in results if result.joint.sketched is is_sketched]
        found = accuracy([p for name in BOUNDARIES for p in placed(part, name)])
        cover = " / ".join(percent(share) for share in found.coverage.values())
        yield f"| {label} | {len(part)} | {percent(found.within_02)} % of {found.n} | {cover} |"


def _phases(results: Sequence[Result]) -> Iterator[str]:
    """Phases wrong, missing or extra: with the plan, and on every so many joints without one."""
    yield from _head(
        "plan",
        "joints",
        "placed within 0.2 s",
        "more than 5 s off",
        "not placed",
        "no joint",
        "extra",
        "order",
    )
    for label, part in (("known", results), ("unknown", without_plan(results))):
        edges = [edge for result in part for edge in result.edges]
        found = accuracy([p for name in BOUNDARIES for p in placed(part, name)])
        counts = (
            sum(edge.error_s is not None and abs(edge.error_s) > GROSS_S for edge in edges),
            sum(edge.at_s is None for edge in edges),
            sum(all(edge.at_s is None for edge in result.edges) for result in part),
            sum(result.other_joints > result.joint.scenario.operator.joints - 1 for result in part),
            sum(result.misordered for result in part),
        )
        told = " | ".join(str(count) for count in counts)
        yield f"| {label} | {len(part)} | {percent(found.within_02)} % of {found.n} | {told} |"


def _findings(results: Sequence[Result]) -> Iterator[str]:
    yield from _head("code", "broken", "found (95 % bounds)", "kept", "called falsely (95 % bounds)")
    for code in sorted({code for result in results for code in result.limits}):
        broken = [r for r in results if r.limits.get(code) == "broken"]
        kept = [r for r in results if r.limits.get(code) == "kept"]
        found = _bounds(sum(code in r.called for r in broken), len(broken))
        false = _bounds(sum(code in r.called for r in kept), len(kept))
        yield f"| {code} | {len(broken)} | {found} | {len(kept)} | {false} |"


def _summary(results: Sequence[Result]) -> Iterator[str]:
    edges: list[Edge] = [edge for result in results for edge in result.edges]
    gross = sum(edge.error_s is not None and abs(edge.error_s) > GROSS_S for edge in edges)
    unplaced = sum(edge.at_s is None for edge in edges)
    misordered = sum(result.misordered for result in results)
    good = [r for r in results if set(r.limits.values()) == {"kept"} and not r.readings_lost]
    verdicts = [sum(r.verdict == verdict for r in good) for verdict in ("nonconforming", "undecided")]
    lives = [result.live for result in results if result.live is not None and result.live.samples]
    yield (
        f"Of {len(edges)} boundaries {gross} lie more than 5 s off and {unplaced} are declared not visible; "
        f"{misordered} of {len(results)} joints have phases out of order. Of {len(good)} joints that keep "
        f"every limit {verdicts[0]} are called nonconforming, {_bounds(verdicts[0], len(good))}, and "
        f"{verdicts[1]} undecided."
    )
    yield f"`judge`: median {1e3 * median(r.judge_s for r in results):.1f} ms a joint."
    if lives:
        each_us = [1e6 * live.seconds / live.samples for live in lives]
        yield f"`advance`: median {median(each_us):.1f} us a sample."


def _bounds(hits: int, trials: int) -> str:
    if not trials:
        return "-"
    low, high = wilson(hits, trials)
    return f"{100 * hits / trials:.2f} % ({100 * low:.2f} to {100 * high:.2f})"
