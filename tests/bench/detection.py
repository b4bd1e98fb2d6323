"""How well phases are found and limits judged, over random joints of the simulator.

`python -m tests.bench.detection --joints N` draws joint after joint from consecutive seeds. Seeds below
1 000 000 are for tuning; published figures come from seeds from 2 000 000 on, which nobody tuned against.
Those between them gave an earlier report whose misses were looked into.
"""

import argparse
import platform
import sys
from collections.abc import Iterable, Iterator
from functools import partial
from importlib.util import find_spec
from multiprocessing import get_context
from time import monotonic

from simulators.tables import ScenarioError
from tests.bench import outcome, report
from tests.bench.guide import guide
from tests.bench.joints import SKETCHED_SHARE
from tests.bench.run import Result, Wanted, run_joint, without_plan
from tests.bench.timing import timing

TUNE_BELOW_SEED = 1_000_000
REPORT_FROM_SEED = 2_000_000
UNPLANNED_NOTE = "the joining band is unknown: cooling.start is held against it all the same"


def main(arguments: list[str] | None = None) -> int:
    """Print the tables; exit code 0 whatever they say: figures are read, not asserted."""
    options = _parser().parse_args(arguments)
    wanted = _Wanted(options)
    if options.only is not None:
        _print(report.single(run_joint(options.only, wanted.of(options.only))))
        return 0
    seeds = range(options.seed, options.seed + options.joints)
    begin = monotonic()
    results, failed = _run(seeds, wanted, options.jobs)
    _print(_header(options, failed, len(seeds) / (monotonic() - begin)))
    if not results:
        return 0
    _print(guide(results) if options.guide else report_lines(results, options.worst))
    if options.timing:
        _print(["", *timing()])
    return 0


def report_lines(results: list[Result], worst: int = 0) -> Iterator[str]:
    """All tables over these results."""
    parts = [report.boundaries, report.goals, report.splits, report.baselines]
    for part in (*parts, outcome.order, outcome.faults, outcome.verdicts, outcome.costs):
        yield from part(results)
        yield ""
    unplanned = without_plan(results)
    if unplanned:
        yield f"Without a plan: {UNPLANNED_NOTE}"
        yield from report.boundaries(unplanned)
        yield from outcome.order(unplanned)
        yield ""
    if worst:
        yield from report.worst(results, worst)


class _Wanted:
    """What to run for which seed; a class, so that it travels to the jobs."""

    def __init__(self, options: argparse.Namespace) -> None:
        self._live_every = options.live_every
        self._ruptures_below = options.seed + (options.ruptures if find_spec("ruptures") else 0)
        self._with_plan = not options.no_plan
        self._unplanned_every = options.unplanned_every
        self._rates = tuple(options.rates) if options.rates else None

    def of(self, seed: int) -> Wanted:
        return Wanted(
            live=bool(self._live_every) and seed % self._live_every == 0,
            ruptures=seed < self._ruptures_below,
            with_plan=self._with_plan,
            unplanned=bool(self._unplanned_every) and seed % self._unplanned_every == 0,
            rates_hz=self._rates,
        )


def _one(seed: int, wanted: _Wanted) -> Result | str:
    try:
        return run_joint(seed, wanted.of(seed))
    except ScenarioError as err:
        return str(err)


def _run(seeds: Iterable[int], wanted: _Wanted, jobs: int) -> tuple[list[Result], list[str]]:
    """Run every seed; a joint that its scripted operator cannot make is reported, never counted."""
    one = partial(_one, wanted=wanted)
    if jobs <= 1:
        answers = [one(seed) for seed in seeds]
    else:
        with get_context("spawn").Pool(jobs) as pool:
            answers = list(pool.imap(one, seeds, chunksize=8))
    return [a for a in answers if isinstance(a, Result)], [a for a in answers if isinstance(a, str)]


def _use_of(options: argparse.Namespace) -> str:
    first, last = options.seed, options.seed + options.joints - 1
    if last < TUNE_BELOW_SEED:
        return "tuning"
    return "reporting" if first >= REPORT_FROM_SEED else "neither tuning nor reporting: looked into earlier"


def _header(options: argparse.Namespace, failed: list[str], joints_per_s: float) -> Iterator[str]:
    last = options.seed + options.joints - 1
    yield f"Detection and judgement of {options.joints} drawn joints"
    yield f"Seeds {options.seed} to {last}: for {_use_of(options)}."
    yield f"Tuning uses seeds below {TUNE_BELOW_SEED:_}, reporting seeds from {REPORT_FROM_SEED:_} on."
    known = "unknown" if options.no_plan else "known"
    yield f"Plan {known}; hydraulic lag 0.05 to 1 s, never told; steady cooling cut to 40 to 55 s."
    yield f"One in {1 / SKETCHED_SHARE:.0f} is sketched from curves, without a rig, where that can be."
    python = f"{platform.python_implementation()} {platform.python_version()}"
    yield f"{python}, {platform.machine()}, {options.jobs} jobs: {joints_per_s:.2f} joints a second in all"
    if options.no_plan:
        yield f"Without a plan {UNPLANNED_NOTE}."
    if options.ruptures and not find_spec("ruptures"):
        yield "ruptures is not installed: its columns are left out"
    if failed:
        yield f"{len(failed)} joints cannot be made on their rig and are left out: {failed[0]}"
    yield ""


def _print(lines: Iterable[str]) -> None:
    sys.stdout.writelines(f"{line}\n" for line in lines)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.detection", description=__doc__)
    parser.add_argument("--joints", type=int, default=200, metavar="N")
    parser.add_argument("--seed", type=int, default=1, help="of the first joint (1; reports from 2000000)")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--rates", type=float, nargs="+", metavar="HZ", help="instead of the default mix")
    parser.add_argument("--no-plan", action="store_true", help="find phases without a plan")
    parser.add_argument("--unplanned-every", type=int, default=4, metavar="K", help="so on each Kth too (4)")
    parser.add_argument("--live-every", type=int, default=4, metavar="K", help="online path on each Kth (4)")
    parser.add_argument("--ruptures", type=int, default=200, metavar="K", help="on the first K joints (200)")
    parser.add_argument("--worst", type=int, default=0, metavar="N", help="list the worst per boundary")
    parser.add_argument("--guide", action="store_true", help="print the tables of the contributor guide")
    parser.add_argument("--only", type=int, metavar="SEED", help="run and print one joint")
    parser.add_argument(
        "--no-timing", dest="timing", action="store_false", help="leave the 15-minute joint out"
    )
    return parser


if __name__ == "__main__":
    sys.exit(main())
