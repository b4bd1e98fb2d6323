"""`python -m simulators`: write a trace of a simulated joint, or serve the rig to a data logger."""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from simulators.rig import Trajectory, simulate
from simulators.scenario import Scenario, ScenarioError, load_scenario, scenario_names
from simulators.sensors import Sensors
from simulators.trace import write_trace


def main(arguments: list[str] | None = None) -> int:
    """Exit codes: 0 done, 2 usage, 3 bad scenario or override, 5 a port or file failed."""
    options = _parser().parse_args(arguments)
    try:
        return int(options.run(options))
    except ScenarioError as err:
        print(f"simulators: {err}", file=sys.stderr)
        return 3
    except OSError as err:
        print(f"simulators: {err.filename or ''} {err.strerror or err}", file=sys.stderr)
        return 5
    except KeyboardInterrupt:
        return 130


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m simulators", description=__doc__)
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    listing = commands.add_parser("list", help="name the scenarios")
    listing.set_defaults(run=_list)

    trace = commands.add_parser("trace", help="write NAME.csv and NAME.truth.csv")
    _add_rig_options(trace)
    trace.add_argument("--out", type=Path, required=True, metavar="NAME.csv")
    trace.add_argument("--rate", type=_positive, default=10.0, metavar="HZ", help="samples per second (10)")
    trace.add_argument("--no-carriage", action="store_true", help="leave the carriage column out")
    trace.add_argument("--no-plate-in", action="store_true", help="leave the plate_in column out")
    trace.set_defaults(run=_trace)
    return parser


def _add_rig_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("scenario", metavar="SCENARIO", help=f"{', '.join(scenario_names())}, or FILE.toml")
    parser.add_argument("--seed", type=int, default=1, help="of the noise (1)")
    parser.add_argument("--noise", type=float, metavar="BAR", help="standard deviation of the pressure noise")
    parser.add_argument("--gauge-side", choices=["line", "closing"])
    parser.add_argument("--cooling-s", type=_positive, metavar="S", help="time under pressure in cooling")
    for table in ("targets", "rig", "pipe", "operator"):
        parser.add_argument(
            f"--{table}", type=_table, default={}, metavar="JSON", help=f"values over [{table}]"
        )


def _positive(text: str) -> float:
    value = float(text)
    if not 0.0 < value < float("inf"):
        raise argparse.ArgumentTypeError(f"{text} is not above 0")
    return value


def _table(text: str) -> dict[str, Any]:
    table = json.loads(text)
    if not isinstance(table, dict):
        raise argparse.ArgumentTypeError("expected a JSON object")
    return table


def _scenario(options: argparse.Namespace) -> Scenario:
    rig = dict(options.rig)
    if options.gauge_side is not None:
        rig["gauge_side"] = options.gauge_side
    changes = {"targets": options.targets, "rig": rig, "pipe": options.pipe, "operator": options.operator}
    return load_scenario(options.scenario).with_changes(changes)


def _joint(options: argparse.Namespace) -> Trajectory:
    return simulate(_scenario(options), options.cooling_s)


def _list(_options: argparse.Namespace) -> int:
    for name in scenario_names():
        print(f"{name:24} {load_scenario(name).description}")
    return 0


def _trace(options: argparse.Namespace) -> int:
    sensors = Sensors(_joint(options), options.seed, options.noise)
    truth = write_trace(
        options.out,
        sensors,
        options.rate,
        with_carriage=not options.no_carriage,
        with_plate_in=not options.no_plate_in,
    )
    print(options.out)
    print(truth)
    return 0


if __name__ == "__main__":
    sys.exit(main())
