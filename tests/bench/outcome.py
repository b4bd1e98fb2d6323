"""The benchmark's tables about phases as a whole, findings, verdicts and cost, as lines of text."""

from collections import Counter
from collections.abc import Iterator, Sequence
from statistics import median

from tests.bench.figures import percent, quantile, wilson
from tests.bench.report import GROSS_S
from tests.bench.run import Result
from tests.bench.truth import BOUNDARIES


def order(results: Sequence[Result]) -> Iterator[str]:
    """Misordered, missing and extra phases."""
    n = len(results)
    misordered = [r.joint.seed for r in results if r.misordered]
    extra = [r.joint.seed for r in results if r.other_joints > r.joint.scenario.operator.joints - 1]
    fewer = [r.joint.seed for r in results if r.other_joints < r.joint.scenario.operator.joints - 1]
    no_cycle = [r.joint.seed for r in results if all(edge.at_s is None for edge in r.edges)]
    unseen = [r.joint.seed for r in results if any(e.clear and e.at_s is None for e in r.edges)]
    gross = [
        r.joint.seed
        for r in results
        if any(e.error_s is not None and abs(e.error_s) > GROSS_S for e in r.edges)
    ]
    yield "Phases"
    for label, seeds in (
        ("misordered", misordered),
        ("a boundary off by more than 5 s", gross),
        ("no joint found at all", no_cycle),
        ("a clear boundary not placed", unseen),
        ("more joints than there were", extra),
        ("fewer joints than there were", fewer),
    ):
        low, high = wilson(len(seeds), n)
        yield f"{label:40}{len(seeds):6} of {n} (95 %: {percent(low)} to {percent(high)} %) {_some(seeds)}"
    yield from _live(results)


def _live(results: Sequence[Result]) -> Iterator[str]:
    lives = [(result, result.live) for result in results if result.live is not None]
    if not lives:
        return
    wrong = [result.joint.seed for result, live in lives if not live.in_order]
    withdrawn = sum(live.withdrawn for _, live in lives)
    yield f"{'live: not the five phases in order':40}{len(wrong):6} of {len(lives)} {_some(wrong)}"
    yield f"{'live: phases withdrawn':40}{withdrawn:6}"
    yield f"{'live: seen after the true start':40}{'n':>6}{'median s':>10}{'p95 s':>8}{'<=1 s':>8}"
    for name in BOUNDARIES[:5]:
        late = [live.delay_s[name] for _, live in lives if name in live.delay_s]
        if late:
            soon = sum(delay <= 1.0 for delay in late) / len(late)
            figures = f"{median(late):10.2f}{quantile(late, 0.95):8.2f}{percent(soon):>8}"
            yield f"  {name:38}{len(late):6}{figures}"


def _some(seeds: Sequence[int], most: int = 8) -> str:
    return f"seeds {', '.join(map(str, seeds[:most]))}{' ...' if len(seeds) > most else ''}" if seeds else ""


def faults(results: Sequence[Result]) -> Iterator[str]:
    """Each code: limits clearly broken and found, limits kept and called all the same."""
    yield "Findings by code (95 % bounds after Wilson)"
    counts = f"{'broken':>7}{'found':>7}{'undec.':>7}{'missed':>7}{'found %':>19}"
    yield f"{'code':34}{counts}{'kept':>7}{'false':>7}{'false %':>19}"
    for code in sorted({code for result in results for code in result.limits}):
        broken = [result for result in results if result.limits.get(code) == "broken"]
        kept = [result for result in results if result.limits.get(code) == "kept"]
        found = [result for result in broken if code in result.called]
        open_ = [result for result in broken if code not in result.called and _left_open(result, code)]
        missed = [r for r in broken if code not in r.called and not _left_open(r, code)]
        false = [result for result in kept if code in result.called]
        yield (
            f"{code:34}{len(broken):7}{len(found):7}{len(open_):7}{len(missed):7}"
            f"{_bounds(len(found), len(broken)):>19}"
            f"{len(kept):7}{len(false):7}{_bounds(len(false), len(kept)):>19}"
        )
        if missed:
            yield f"    missed: {_some([result.joint.seed for result in missed])}"
        if false:
            yield f"    false: {_some([result.joint.seed for result in false])}"
    unknown = Counter(code for r in results for code in r.called if code not in r.limits)
    if unknown:
        yield f"codes without a known truth: {dict(unknown)}"


def _left_open(result: Result, code: str) -> bool:
    """Whether the judge said that it could not decide in this code's phase."""
    phase = code.split(".")[0]
    return result.verdict == "undecided" and any(reason.startswith(phase) for reason in result.undecided)


def _bounds(hits: int, trials: int) -> str:
    if not trials:
        return "-"
    low, high = wilson(hits, trials)
    return f"{100 * hits / trials:.1f} ({100 * low:.1f}-{100 * high:.1f})"


def verdicts(results: Sequence[Result]) -> Iterator[str]:
    """Verdicts of joints that are good and of joints that are not, and why some stay undecided."""
    yield "Verdicts"
    whole = [r for r in results if not r.readings_lost]
    groups = {
        "all limits kept": [r for r in whole if not set(r.limits.values()) - {"kept"}],
        "same, readings lost": [r for r in results if r.readings_lost and "broken" not in r.limits.values()],
        "one nearly broken": [r for r in whole if set(r.limits.values()) == {"kept", "near"}],
        "a limit broken": [r for r in results if "broken" in r.limits.values()],
    }
    for label, part in groups.items():
        count = Counter(result.verdict for result in part)
        yield (
            f"{label:22}{len(part):6}: {count['conforming']} conforming, "
            f"{count['nonconforming']} nonconforming, "
            f"{count['undecided']} undecided ({_bounds(count['undecided'], len(part))} %)"
        )
    reasons = Counter(reason for result in results for reason in result.undecided)
    false = [r.joint.seed for r in groups["all limits kept"] if r.verdict == "nonconforming"]
    low, high = wilson(len(false), len(groups["all limits kept"]))
    bounds = f"95 %: {percent(low)} to {percent(high)} %"
    yield f"good joints called nonconforming: {len(false)} ({bounds}) {_some(false)}"
    yield from (f"    {often:5} {reason}" for reason, often in reasons.most_common(12))


def costs(results: Sequence[Result]) -> Iterator[str]:
    """Computing time of this run, per sample and per joint."""
    yield "Cost in this run (processor time; jobs side by side share the machine)"
    judged = [result.judge_s for result in results]
    per_sample = [1e6 * result.judge_s / result.samples for result in results]
    yield (
        f"judge: median {1e3 * median(judged):.1f} ms per joint, p95 {1e3 * quantile(judged, 0.95):.1f} ms; "
        f"median {median(per_sample):.1f} us per sample"
    )
    for rate_hz in sorted({result.joint.rate_hz for result in results}):
        lives = [r.live for r in results if r.live is not None and r.joint.rate_hz == rate_hz]
        if lives:
            each = [1e6 * live.seconds / live.samples for live in lives if live.samples]
            figures = f"median {median(each):.1f}, p95 {quantile(each, 0.95):.1f}"
            yield f"advance at {rate_hz:g} Hz: {figures} us per sample"
