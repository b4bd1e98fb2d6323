"""A driver of one's own fits under the poller, and is as short as the guide says."""

import ast
import asyncio
from pathlib import Path

import pytest

from logger.acquire.poller import Poller
from logger.domain.bus import SerialLineBus
from logger.domain.channel import Quantity
from tests.system.acquire import own_driver
from tests.system.acquire.bench import PATIENCE_S
from tests.system.acquire.own_driver import GaugeDriver
from tests.unit.acquire.rig_builders import RealClock, installation, text

pytestmark = pytest.mark.system

# 1840 is 730h, -7 is FFF9h; A5h + 30h + 07h + F9h + FFh is 2D4h.
SOUND = bytes.fromhex("a5 3007 f9ff d4")
FIELDS = (text(Quantity.PRESSURE, "0"), text(Quantity.CARRIAGE, "1"))


def test_it_takes_under_sixty_lines() -> None:
    source = Path(own_driver.__file__).read_text(encoding="utf-8")
    docstring = ast.get_docstring(ast.parse(source), clean=False)
    assert docstring
    code = [line for line in source.replace(docstring, "").splitlines() if line.strip()]
    assert len(code) < 60


async def test_it_reads_and_loses_one_sample_to_a_damaged_answer() -> None:
    answers = [SOUND, SOUND[:-1] + b"\x00", SOUND, SOUND]
    asked: list[bytes] = []

    async def gauge(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while question := await reader.read(1):
            writer.write(answers[min(len(asked), 3)])
            asked.append(question)
        writer.close()

    server = await asyncio.start_server(gauge, "127.0.0.1", 0)
    path = f"127.0.0.1:{server.sockets[0].getsockname()[1]}"
    bus = SerialLineBus(name="field", path=path, pattern="", poll_request="R", timeout_s=5.0)
    samples = []
    poller = Poller(
        installation(bus, *FIELDS),
        RealClock(),
        samples.append,
        lambda _event: None,
        lambda *a: GaugeDriver(*a),
    )
    polling = asyncio.create_task(poller.run())
    async with asyncio.timeout(PATIENCE_S):
        while len(samples) < 4:
            await asyncio.sleep(0.01)
    polling.cancel()
    await asyncio.gather(polling, return_exceptions=True)
    server.close()
    assert {tuple(reading.raw for reading in sample.readings) for sample in samples} == {(1840, -7)}
    assert poller.requests[0].counts.failed == 1
    assert set(asked) == {b"R"}
