"""A process that records joint after joint and prints what is on disk; it ends when it is killed.

Prints `sample UUID T_MS` when all samples up to that one are committed, `sealed UUID COUNT` after a seal.
"""

import random
import sys
import uuid
from dataclasses import replace
from pathlib import Path

from tests.unit.store.record_values import EMITTED, FINISHED, HEADER, open_writer, sample


def main(path: Path, seed: int) -> None:
    chance = random.Random(seed)
    writer = open_writer(path, interval_s=0.002)
    while True:
        header = replace(HEADER, uuid=str(uuid.UUID(int=chance.getrandbits(128))))
        writer.open_joint(header)
        index = 0
        for _ in range(chance.randint(1, 40)):
            for _ in range(chance.randint(1, 50)):
                writer.append(header.uuid, sample(index))
                index += 1
            writer.flush()
            say("sample", header.uuid, sample(index - 1).t_ms)
        writer.close_joint(header.uuid, FINISHED, EMITTED)
        say("sealed", header.uuid, index)


def say(what: str, joint_uuid: str, number: int) -> None:
    sys.stdout.write(f"{what} {joint_uuid} {number}\n")
    sys.stdout.flush()


main(Path(sys.argv[1]), int(sys.argv[2]))
