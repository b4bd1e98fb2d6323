"""The benchmark's tables about boundaries as lines of text."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from statistics import median

from tests.bench.figures import SLACK_S, Accuracy, Placed, accuracy, percent, wilson
from tests.bench.run import Edge, Result
from tests.bench.truth import BOUNDARIES

GOAL_SHARE = 0.999
GOAL_S = {10.0: 0.2, 50.0: 0.1}
"""What is promised at which rate."""
DECLARED_K = 5.0
"""A boundary is declared visible where so many of its stated uncertainties fit into the goal: 0.04 s at
10 Hz, 0.02 s at 50 Hz. A choice: what a carriage shows, since corners behind unknown lags may be 5 off."""
GROSS_S = 5.0
"""A boundary this far off was found in the wrong place altogether."""
_COLUMNS = ("n", "<=0.1 s", "<=0.2 s", "bias s", "p95 s", "90 %", "95 %", "99 %")
_WIDTHS = (6, 9, 9, 8, 8, 7, 7, 7)
HEAD = f"{'boundary':32}" + "".join(f"{c:>{w}}" for c, w in zip(_COLUMNS, _WIDTHS, strict=True))

Pick = Callable[[Result, Edge], bool]


def placed(results: Sequence[Result], name: str, pick: Pick = lambda _r, _e: True) -> list[Placed]:
    """Errors of one boundary over all joints in which it was placed."""
    return [
        Placed(edge.at_s - edge.true_s, edge.u_s)
        for result in results
        for edge in result.edges
        if edge.name == name and edge.at_s is not None and pick(result, edge)
    ]


def row(label: str, found: Accuracy, more: str = "") -> str:
    """One line of a boundary table, under `HEAD`."""
    if not found.n:
        return f"{label:32}{0:6}{more}"
    shares = f"{percent(found.within_01):>9}{percent(found.within_02):>9}"
    covered = "".join(f"{percent(share):>7}" for share in found.coverage.values())
    return f"{label:32}{found.n:6}{shares}{found.bias_s:8.3f}{found.p95_s:8.3f}{covered}{more}"


def boundaries(results: Sequence[Result]) -> Iterator[str]:
    """All boundaries that were placed, and those of them that have a clear edge."""
    yield "Boundaries placed (coverage of the stated uncertainty at 90, 95, 99 %)"
    yield HEAD + "  not placed: reasons; gross errors"
    for name in BOUNDARIES:
        edges = [edge for result in results for edge in result.edges if edge.name == name]
        reasons = Counter(edge.reason for edge in edges if edge.at_s is None)
        gross = sum(edge.error_s is not None and abs(edge.error_s) > GROSS_S for edge in edges)
        said = ", ".join(f"{count} {reason}" for reason, count in reasons.most_common())
        yield row(name, accuracy(placed(results, name)), f"  {reasons.total()}: {said or '-'}; {gross} gross")
    yield row("all", accuracy([p for name in BOUNDARIES for p in placed(results, name)]))
    yield ""
    yield "Of these, the edge at least 3.6 sigma (or shown by the carriage) and no gap within 1 s"
    yield HEAD + "  clear but not placed"
    for name in BOUNDARIES:
        clear = [edge for result in results for edge in result.edges if edge.name == name and edge.clear]
        unseen = Counter(edge.reason for edge in clear if edge.at_s is None)
        more = f"  {unseen.total()} of {len(clear)} {dict(unseen.most_common()) or ''}"
        yield row(name, accuracy(placed(results, name, _clear)), more)


def _clear(_result: Result, edge: Edge) -> bool:
    return edge.clear


def declared(edge: Edge, goal_s: float) -> bool:
    """Whether the detector itself promises this boundary within the goal, and nothing speaks against it."""
    return edge.clear and edge.u_s is not None and DECLARED_K * edge.u_s <= goal_s


def goals(results: Sequence[Result]) -> Iterator[str]:
    """The two figures that were promised, and apart from them whatever was placed but not promised."""
    yield (
        f"Goals, noise up to 1 %: {100 * GOAL_SHARE:.1f} % of the boundaries declared visible (stated "
        f"uncertainty at most the goal / {DECLARED_K:g}, edge at least 3.6 sigma, no gap within 1 s)"
    )
    yield f"{'boundary':32}{'declared':>9}{'within %':>20}{'off':>5}{'others':>8}{'in 95 %':>8}{'unseen':>8}"
    for rate_hz, goal_s in GOAL_S.items():
        part = [r for r in results if r.joint.rate_hz == rate_hz and r.joint.noise_share <= 0.01]
        yield f"- {rate_hz:g} Hz, within {goal_s} s: {len(part)} joints"
        for name in BOUNDARIES:
            yield _goal_row(name, [(r, e) for r in part for e in r.edges if e.name == name], goal_s)
        yield _goal_row("all", [(r, e) for r in part for e in r.edges], goal_s)


def _goal_row(label: str, pairs: Sequence[tuple[Result, Edge]], goal_s: float) -> str:
    promised = [(r, e) for r, e in pairs if declared(e, goal_s)]
    others = [e for _, e in pairs if e.error_s is not None and not declared(e, goal_s)]
    off = [r.joint.seed for r, e in promised if abs(e.error_s or 0.0) > goal_s + SLACK_S]
    low, high = wilson(len(promised) - len(off), len(promised))
    share = 1.0 - len(off) / len(promised) if promised else float("nan")
    within = f"{100 * share:.2f} ({100 * low:.1f}-{100 * high:.1f})" if promised else "-"
    covered = accuracy([Placed(e.error_s or 0.0, e.u_s) for e in others]).coverage[95]
    unseen = len(pairs) - len(promised) - len(others)
    seeds = f"  seeds {', '.join(map(str, off[:6]))}{' ...' if len(off) > 6 else ''}" if off else ""
    inside = percent(covered) if others else "-"
    return f"  {label:30}{len(promised):9}{within:>20}{len(off):5}{len(others):8}{inside:>8}{unseen:8}{seeds}"


def splits(results: Sequence[Result]) -> Iterator[str]:
    """Every boundary by noise class, by rate, and by what the rig can see."""
    kinds: dict[str, Callable[[Result], str]] = {
        "noise": lambda r: r.joint.noise_class,
        "rate": lambda r: f"{r.joint.rate_hz:g} Hz",
        "trace model": lambda r: "sketched from curves" if r.joint.sketched else "simulated rig",
        "gauge side": lambda r: (
            f"{r.joint.scenario.rig.gauge_side}, {'carriage' if r.joint.with_carriage else 'no carriage'}"
        ),
    }
    for kind, key_of in kinds.items():
        yield ""
        yield f"By {kind} (boundaries placed)"
        yield HEAD
        for key in sorted({key_of(r) for r in results}, key=_natural):
            part = [r for r in results if key_of(r) == key]
            yield f"- {key}: {len(part)} joints"
            for name in BOUNDARIES:
                yield row(f"  {name}", accuracy(placed(part, name)))
            yield row("  all", accuracy([p for name in BOUNDARIES for p in placed(part, name)]))


def _natural(label: str) -> tuple[float, str]:
    number = label.split("-")[0].split(" ")[0]
    return (float(number), label) if number.replace(".", "").isdigit() else (0.0, label)


def baselines(results: Sequence[Result]) -> Iterator[str]:
    """The same figures for the methods of comparison, each beside ours on the very same joints."""
    for name in ("thresholds", "ruptures"):
        part = [result for result in results if name in result.baselines]
        if not part:
            continue
        yield ""
        yield f"Beside it, on the same {len(part)} joints: {name}"
        yield f"{'boundary':24}{'':10}{'n':>6}{'<=0.1 s':>9}{'<=0.2 s':>9}{'bias s':>8}{'p95 s':>8}"
        for boundary in BOUNDARIES:
            other = []
            for result in part:
                at_s = result.baselines[name][boundary]
                true_s = next(edge.true_s for edge in result.edges if edge.name == boundary)
                if at_s is not None:
                    other.append(Placed(at_s - true_s, None))
            yield _beside(boundary, "detector", accuracy(placed(part, boundary)))
            yield _beside("", name, accuracy(other))
        yield from _comparison(name, part)


def _comparison(name: str, part: Sequence[Result]) -> Iterator[str]:
    """What the method of comparison costs, what it misses, and how its durations would be judged."""
    cost_us = [1e6 * result.baseline_s[name] / result.samples for result in part]
    yield f"{name}: median {median(cost_us):.1f} us per sample over the whole curve"
    counts = [result.change_points for result in part if result.change_points is not None]
    if name == "ruptures":
        yield (
            f"change points per joint: median {median(counts):g} (a joint has 6 boundaries; the nearest "
            "one is credited to each, whatever its meaning, so that order and kind say nothing)"
        )
        return
    found = [result.baselines[name] for result in part]
    missing = sum(None in times.values() for times in found)
    misordered = sum(_falls(times) for times in found)
    yield f"a boundary not found on {missing} of {len(part)} joints, boundaries misordered on {misordered}"
    codes = sorted({code for result in part for code in result.baseline_called[name]})
    for code in codes:
        broken = [r for r in part if r.limits.get(code) == "broken"]
        kept = [r for r in part if r.limits.get(code) == "kept"]
        hits = sum(code in r.baseline_called[name] for r in broken)
        false = sum(code in r.baseline_called[name] for r in kept)
        yield f"  {code:32}{hits:5} of {len(broken)} found, {false} of {len(kept)} called falsely"


def _falls(times: dict[str, float | None]) -> bool:
    seen = [at_s for at_s in times.values() if at_s is not None]
    return any(after <= before for before, after in pairwise(seen))


def _beside(boundary: str, who: str, found: Accuracy) -> str:
    if not found.n:
        return f"{boundary:24}{who:10}{0:6}"
    shares = f"{percent(found.within_01):>9}{percent(found.within_02):>9}"
    return f"{boundary:24}{who:10}{found.n:6}{shares}{found.bias_s:8.3f}{found.p95_s:8.3f}"


def worst(results: Sequence[Result], count: int) -> Iterator[str]:
    """The joints with the largest errors per boundary, with what reproduces them."""
    for name in BOUNDARIES:
        pairs = [
            (edge, r) for r in results for edge in r.edges if edge.name == name and edge.at_s is not None
        ]
        pairs.sort(key=lambda pair: -abs(pair[0].error_s or 0.0))
        yield ""
        yield f"Worst of {name}"
        for edge, result in pairs[:count]:
            size = f"u {edge.u_s or 0:.3f}, edge {edge.edge_sigmas:.1f} sigma"
            yield f"  {edge.error_s:+.3f} s ({size}) seed {result.joint.seed}: {result.joint.describe()}"


def single(result: Result) -> Iterator[str]:
    """Everything about one joint."""
    yield f"seed {result.joint.seed}: {result.joint.describe()}"
    yield f"{'boundary':24}{'true s':>9}{'found s':>9}{'error s':>9}{'u s':>7}{'edge/sigma':>11}  clear"
    for edge in result.edges:
        if edge.error_s is None:
            where = f"{edge.reason:>25}"
        else:
            where = f"{edge.at_s:9.3f}{edge.error_s:+9.3f}{edge.u_s or float('nan'):7.3f}"
        yield f"{edge.name:24}{edge.true_s:9.3f}{where}{edge.edge_sigmas:11.1f}  {edge.clear}"
    yield f"verdict {result.verdict}, called {sorted(result.called) or 'nothing'}"
    yield f"undecided for {list(result.undecided) or 'nothing'}"
    yield f"limits not kept: { {code: state for code, state in result.limits.items() if state != 'kept'} }"
    for name, found in result.baselines.items():
        off = {edge.name: _off(found[edge.name], edge.true_s) for edge in result.edges}
        yield f"{name}: {off}"
    if result.live is not None:
        seen = {name: round(late, 2) for name, late in result.live.delay_s.items()}
        yield f"live: in order {result.live.in_order}, withdrawn {result.live.withdrawn}, late by s {seen}"


def _off(at_s: float | None, true_s: float) -> float | None:
    return None if at_s is None else round(at_s - true_s, 2)
