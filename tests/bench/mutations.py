"""Mutated frames and lines in the size of a release: `python -m tests.bench.mutations`. A failure ends it."""

import argparse
import sys
import time
from collections.abc import Callable

from tests.bench.timing import yardstick_s
from tests.unit.acquire import test_mutations

CHECKS: dict[str, Callable[[], None]] = {
    "RTU frames": test_mutations.test_a_mutated_frame_never_hangs_crashes_or_gives_a_wrong_length,
    "TCP frames": test_mutations.test_a_mutated_tcp_frame_is_sound_only_if_its_header_is,
    "text lines": test_mutations.test_a_mutated_line_is_a_number_or_refused,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1_000_000, help="of each kind")
    test_mutations.COUNT = parser.parse_args().count
    yardstick = yardstick_s()
    for name, check in CHECKS.items():
        begin_s = time.perf_counter()
        check()
        spent_s = time.perf_counter() - begin_s
        each = spent_s / test_mutations.COUNT
        sys.stdout.write(
            f"{test_mutations.COUNT} mutated {name}: no crash, nothing taken that is not whole and proven; "
            f"{1e6 * each:.1f} us each ({spent_s / yardstick:.0f} yardsticks in all)\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main()
