"""`python -m simulators`: write a trace of a simulated joint, or serve the rig to a data logger."""

import argparse
import asyncio
import json
import sys
from pathlib import Path
from typing import Any

from simulators.levers import __doc__ as levers_text
from simulators.rig import Trajectory, simulate
from simulators.scenario import Scenario, load_scenario, scenario_names
from simulators.sensors import Sensors
from simulators.serve import Ports, serve, serve_levers
from simulators.tables import ScenarioError
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
    _add_cooling_option(trace)
    trace.set_defaults(run=_trace)

    serve_rig = commands.add_parser("serve", help="serve the rig; prints one JSON line when ready")
    _add_rig_options(serve_rig)
    _add_port_options(serve_rig)
    serve_rig.add_argument(
        "--time-scale", type=_positive, default=1.0, metavar="X", help="times real time (1)"
    )
    serve_rig.add_argument("--exit-with-stdin", action="store_true", help="stop when stdin ends")
    _add_cooling_option(serve_rig)
    serve_rig.set_defaults(run=_serve)

    levers = commands.add_parser(
        "levers",
        help="serve a rig that stands still until a line on stdin moves its levers",
        description=levers_text,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _add_rig_options(levers)
    _add_port_options(levers)
    levers.set_defaults(run=_levers)
    return parser


def _add_rig_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("scenario", metavar="SCENARIO", help=f"{', '.join(scenario_names())}, or FILE.toml")
    parser.add_argument("--seed", type=int, default=1, help="of the noise (1)")
    parser.add_argument("--noise", type=float, metavar="BAR", help="standard deviation of the pressure noise")
    parser.add_argument("--gauge-side", choices=["line", "closing"])
    for table in ("pipe", "targets", "rig", "plate", "sensors", "operator"):
        parser.add_argument(
            f"--{table}", type=_table, default={}, metavar="JSON", help=f"values over [{table}]"
        )


def _add_port_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--tcp", type=_address, metavar="HOST:PORT", help="Modbus TCP; port 0 takes a free one"
    )
    parser.add_argument("--rtu", action="store_true", help="Modbus RTU on a pty")
    parser.add_argument("--line", action="store_true", help="a text line on a pty")


def _add_cooling_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--cooling-s", type=_positive, metavar="S", help="time under pressure in cooling")


def _positive(text: str) -> float:
    value = float(text)
    if not 0.0 < value < float("inf"):
        raise argparse.ArgumentTypeError(f"{text} is not above 0")
    return value


def _table(text: str) -> dict[str, Any]:
    try:
        table = json.loads(text)
    except json.JSONDecodeError as err:
        raise argparse.ArgumentTypeError(f"not JSON: {err}") from err
    if not isinstance(table, dict):
        raise argparse.ArgumentTypeError("expected a JSON object")
    return table


def _address(text: str) -> tuple[str, int]:
    host, _, port = text.rpartition(":")
    if not host or not port.isdecimal() or int(port) > 65535:
        raise argparse.ArgumentTypeError(f"{text} is not HOST:PORT")
    return host, int(port)


def _scenario(options: argparse.Namespace) -> Scenario:
    rig = dict(options.rig)
    if options.gauge_side is not None:
        rig["gauge_side"] = options.gauge_side
    changes = {
        "pipe": options.pipe,
        "targets": options.targets,
        "rig": rig,
        "plate": options.plate,
        "sensors": options.sensors,
        "operator": options.operator,
    }
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


def _ports(options: argparse.Namespace) -> Ports | None:
    if options.tcp or options.rtu or options.line:
        return Ports(tcp=options.tcp, rtu=options.rtu, line=options.line)
    print("simulators: nothing to serve on: give --tcp, --rtu or --line", file=sys.stderr)
    return None


def _levers(options: argparse.Namespace) -> int:
    if (ports := _ports(options)) is None:
        return 2
    scenario = _scenario(options)
    if options.noise is not None:
        scenario = scenario.with_changes({"sensors": {"pressure_noise_bar": options.noise}})
    asyncio.run(serve_levers(scenario, options.seed, ports))
    return 0


def _serve(options: argparse.Namespace) -> int:
    if (ports := _ports(options)) is None:
        return 2
    sensors = Sensors(_joint(options), options.seed, options.noise)
    asyncio.run(serve(sensors, ports, options.time_scale, exit_with_stdin=options.exit_with_stdin))
    return 0


if __name__ == "__main__":
    sys.exit(main())
