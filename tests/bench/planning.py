"""How fast plans are computed, beside a yardstick of the same run: `python -m tests.bench.planning`."""

import argparse
import sys
from dataclasses import replace
from hashlib import sha256
from itertools import cycle, islice
from time import process_time

from logger.config.dimensions import standard_pipes
from logger.config.procedures import load_procedure
from logger.domain.joint import Joint, PipeEnd, WallRule
from logger.errors import ProcedureRefusal
from logger.plan.compute import compute_plan

YARDSTICK_BYTES = 64 * 1024
YARDSTICK_REPEATS = 2000


def joints() -> list[Joint]:
    """One joint for every standard pipe that the procedure covers."""
    covered = []
    procedure = load_procedure("dvs-2207-1:2015")
    for diameter_mm, sdr in standard_pipes():
        end = PipeEnd(
            material="PE100",
            outside_diameter_mm=diameter_mm,
            wall_mm=diameter_mm / sdr,
            wall_rule=WallRule.DN_OVER_SDR,
            sdr=sdr,
        )
        joint = Joint(
            joint="B-1",
            procedure=procedure.id,
            pipe_a=end,
            pipe_b=end,
            ambient_temperature_degC=20.0,
            drag_pressure_bar=10.0,
            piston_area_mm2=1413.7,
        )
        try:
            compute_plan(joint, procedure)
        except ProcedureRefusal:
            continue
        covered.append(joint)
    return covered


def yardstick_s(repeats: int = YARDSTICK_REPEATS) -> float:
    """Processor time for hashing a fixed amount of data: what this machine does in the same run."""
    data = bytes(YARDSTICK_BYTES)
    begin = process_time()
    for _ in range(repeats):
        sha256(data).digest()
    return process_time() - begin


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plans", type=int, default=100_000)
    count = parser.parse_args().plans
    procedure = load_procedure("dvs-2207-1:2015")
    planned = joints()
    begin = process_time()
    for joint in islice(cycle(planned), count):
        compute_plan(replace(joint, joint="B-2"), procedure)
    spent_s = process_time() - begin
    stick_s = yardstick_s()
    ratio = spent_s / count / stick_s * YARDSTICK_REPEATS
    sys.stdout.write(
        f"{count} plans of {len(planned)} pipes in {spent_s:.2f} s of processor time\n"
        f"{count / spent_s:.0f} plans a second; one plan costs {ratio:.2f} yardsticks\n"
        f"yardstick: SHA-256 of {YARDSTICK_BYTES} bytes, {stick_s / YARDSTICK_REPEATS * 1e6:.0f} µs\n"
    )


if __name__ == "__main__":
    main()
