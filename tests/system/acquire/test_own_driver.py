"""A driver of one's own fits under the poller, and is as short as the guide says."""

import ast
import asyncio
from pathlib import Path

import pytest

from logger.acquire.grouping import requests_of
from logger.acquire.poller import Poller
from logger.acquire.registry import driver_of
from logger.config.rig_file import rig_of
from logger.domain.bus import OwnDriverBus
from logger.domain.channel import Quantity
from logger.errors import DeviceError, InputError
from tests.system.acquire import own_driver
from tests.system.acquire.bench import PATIENCE_S
from tests.system.processes import beadwatch
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
    bus = OwnDriverBus(name="field", file=own_driver.__file__, path=path, timeout_s=5.0)
    samples = []
    poller = Poller(
        installation(bus, *FIELDS),
        RealClock(),
        samples.append,
        lambda _event: None,
        driver_of,
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


RIG = """
name = "r"
[bus.gauge]
kind = "own-driver"
file = "{file}"
path = "127.0.0.1:{port}"
timeout = "5 s"
[channel.pressure]
bus = "gauge"
field = "0"
gain = "0.01 bar"
[channel.carriage]
bus = "gauge"
field = "1"
gain = "0.1 mm"
offset = "2 mm"
"""


async def test_a_rig_file_names_it(tmp_path: Path) -> None:
    """Counts of the driver, scaled by the rig file: 1840 is 18.4 bar, -7 is 1.3 mm."""

    async def gauge(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while await reader.read(1):
            writer.write(SOUND)
        writer.close()

    server = await asyncio.start_server(gauge, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    (tmp_path / "gauge.py").write_bytes(Path(own_driver.__file__).read_bytes())
    (tmp_path / "rig.toml").write_text(RIG.format(file="gauge.py", port=port))
    checked = await asyncio.to_thread(beadwatch, "check", tmp_path / "rig.toml", "--live", "--seconds", 1.5)
    server.close()
    assert checked.returncode == 0, checked.stderr
    assert f"gauge ({tmp_path / 'gauge.py'}): a driver of your own" in checked.stdout
    assert "pressure: 18.4 bar, " in checked.stdout
    assert "carriage: 1.3 mm, " in checked.stdout


@pytest.mark.parametrize(
    ("source", "line"),
    [
        (None, "gauge.py: no such file"),
        ("class Gauge: ...\n", "gauge.py: has no class Driver"),
        ("import nothing_of_the_kind\n", "gauge.py: cannot be run: ModuleNotFoundError: "),
        ("x = 1\nclass Driver\n", "gauge.py:2: cannot be run: SyntaxError: "),
        ("class Driver: ...\n", "gauge.py: Driver cannot be made: TypeError: "),
    ],
)
async def test_a_file_that_is_no_driver_is_named(tmp_path: Path, source: str | None, line: str) -> None:
    if source is not None:
        (tmp_path / "gauge.py").write_text(source)
    read = rig_of(RIG.format(file="gauge.py", port=1), folder=tmp_path)
    with pytest.raises(InputError) as refused:
        driver_of(read.buses[0], (), RealClock())
    assert str(refused.value).startswith(f"{tmp_path}/{line}")


async def test_whatever_it_does_wrong_is_a_lost_sample(tmp_path: Path) -> None:
    methods = "async def ensure_ready(self): ...\n    async def ensure_closed(self): 1 / 0"
    for answer in ("1 / 0", "None"):
        source = (
            f"class Driver:\n    def __init__(self, *_): ...\n    {methods}\n    async def read(self, _):"
        )
        (tmp_path / "gauge.py").write_text(f"{source} return {answer}\n")
        read = rig_of(RIG.format(file="gauge.py", port=1), folder=tmp_path)
        driver = driver_of(read.buses[0], (), RealClock())
        await driver.ensure_ready()
        with pytest.raises(DeviceError, match=r"gauge \(.*gauge.py\): (ZeroDivision|Attribute)Error: "):
            await driver.read(requests_of(read.buses[0], read.bindings)[0])
        await driver.ensure_closed()


def test_what_it_hands_over_is_counts() -> None:
    text = RIG.format(file="gauge.py", port=1).replace(
        'gain = "0.01 bar"', 'scale = { raw = [0, 1], value = ["0 bar", "1 bar"] }'
    )
    with pytest.raises(
        InputError, match="scale: does not belong to a channel on own-driver: give gain and offset"
    ):
        rig_of(text)
