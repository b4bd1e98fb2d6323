"""A Modbus RTU device on a pty that takes the time of the wire.

A request has been received eight characters after it came; the answer begins 3.5 characters later (1.75 ms
above 19200 Bd), and each of its bytes comes when its last bit would. It prints its path, ends with its stdin.
"""

import os
import select
import sys
import time
import tty

from simulators.misbehave import crc16

UNIT_ID = 1
QUESTION_BYTES = 8
SPIN_S = 0.0005


def wait_until(due_s: float) -> None:
    """Sleep, and spin for the last half millisecond: a sleep alone is as late as a character is long."""
    rest_s = due_s - time.perf_counter() - SPIN_S
    if rest_s > 0:
        time.sleep(rest_s)
    while time.perf_counter() < due_s:
        pass


def answer_of(question: bytes) -> bytes:
    count = int.from_bytes(question[4:6], "big")
    body = bytes((UNIT_ID, question[1], 2 * count)) + bytes(range(2 * count))
    return body + crc16(body)


def serve(master: int, character_s: float, silence_s: float) -> None:
    while True:
        ready, _, _ = select.select([master, sys.stdin], [], [])
        if sys.stdin in ready:
            return
        question = os.read(master, 256)
        begin_s = time.perf_counter() + QUESTION_BYTES * character_s + silence_s
        for number, byte in enumerate(answer_of(question[-QUESTION_BYTES:]), start=1):
            wait_until(begin_s + number * character_s)
            os.write(master, bytes((byte,)))


def main() -> None:
    baudrate, parity = int(sys.argv[1]), sys.argv[2]
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    sys.stdout.write(os.ttyname(slave) + "\n")
    sys.stdout.flush()
    bits = 11 if parity != "N" else 10
    silence_s = 0.00175 if baudrate > 19200 else 3.5 * 11 / baudrate
    serve(master, bits / baudrate, silence_s)


if __name__ == "__main__":
    main()
