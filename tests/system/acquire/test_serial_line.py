"""Text lines over a pty and over a pyserial URL."""

import asyncio
import contextlib
import os
import socket
import threading
import tty

import pytest
import serial
import serial.rfc2217

from logger.domain.bus import SerialLineBus
from logger.domain.channel import Quantity
from logger.errors import DeviceError, InputError
from simulators.misbehave import crc16
from tests.system.acquire.bench import driven, polled
from tests.unit.acquire.rig_builders import text

pytestmark = pytest.mark.system

PATTERN = r"P=(?P<bar>\S*) T=(?P<degC>\S*)"
FIELDS = (text(Quantity.PRESSURE, "bar"), text(Quantity.PLATE_TEMPERATURE, "degC", gain=0.1))


class TextDevice:
    """The far end of a pty."""

    def __init__(self) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._master)
        tty.setraw(self._slave)
        self.path = os.ttyname(self._slave)
        self.asked: list[bytes] = []

    def say(self, data: bytes) -> None:
        os.write(self._master, data)

    def answer(self, reply) -> None:
        """Call `reply(number)` for each question and send what it returns."""

        def readable() -> None:
            self.asked.append(os.read(self._master, 100))
            self.say(reply(len(self.asked)))

        asyncio.get_running_loop().add_reader(self._master, readable)

    def close(self) -> None:
        if self._master >= 0:
            asyncio.get_running_loop().remove_reader(self._master)
            os.close(self._master)
            os.close(self._slave)
            self._master = -1


@pytest.fixture
async def device():
    text_device = TextDevice()
    yield text_device
    text_device.close()


def bus_at(path: str, *, timeout_s: float = 5.0, poll_request: str | None = None, encoding="ascii"):
    return SerialLineBus(
        name="field",
        path=path,
        pattern=PATTERN,
        baudrate=115200,
        encoding=encoding,
        poll_request=poll_request,
        timeout_s=timeout_s,
    )


async def test_a_stream_is_read_from_the_first_whole_line(device):
    async with driven(bus_at(device.path), *FIELDS) as bench:
        await bench.driver.ensure_ready()
        device.say(b"4 T=9.9\nP=18.40 T=214.9\r\nP=-0.0")
        assert await bench.ask() == [1840, 2149]
        device.say(b"7 T=215\n")
        assert await bench.ask() == [-7, 2150]


@pytest.mark.parametrize(
    "bad",
    [b"ERROR 5", b"P=1 T=2 X=3", b"P=abc T=1", b"\xff\xfe\x00", b"P=\xb5 T=1", b"", b"x" * 5000],
)
async def test_a_line_that_cannot_be_read_is_one_gap(device, bad):
    async with driven(bus_at(device.path), *FIELDS) as bench:
        await bench.driver.ensure_ready()
        device.say(b"\nP=1 T=2\n")
        assert await bench.ask() == [100, 20]
        answers = []
        device.say(bad)
        await asyncio.sleep(0.2)
        device.say(b"\nP=3 T=4\nP=5 T=6\n")
        while answers[-1:] != [[500, 60]]:
            try:
                answers.append(await bench.ask())
            except DeviceError as error:
                answers.append(type(error))
        assert answers in ([DeviceError, [300, 40], [500, 60]], [[300, 40], [500, 60]])
        assert (len(bad) > 4096) == (answers[0] == [300, 40]), "a line without an end is passed over"


async def test_an_empty_field_is_no_reading(device):
    async with driven(bus_at(device.path), *FIELDS) as bench:
        await bench.driver.ensure_ready()
        device.say(b"\nP= T=215.0\n")
        assert await bench.ask() == [2150]


async def test_silence_is_a_device_error(device):
    async with driven(bus_at(device.path, timeout_s=0.1), *FIELDS) as bench:
        with pytest.raises(DeviceError, match=r"no line within 0\.1 s"):
            await bench.ask()


async def test_a_polled_device_is_asked_for_each_line(device):
    device.answer(lambda number: b"P=%d T=20\n" % number)
    async with driven(bus_at(device.path, poll_request="?\r"), *FIELDS) as bench:
        assert [await bench.ask() for _ in range(3)] == [[100, 200], [200, 200], [300, 200]]
    assert device.asked == [b"?\r"] * 3


async def test_what_waits_before_a_question_is_not_its_answer(device):
    device.answer(lambda number: b"P=%d T=20\n" % number)
    async with driven(bus_at(device.path, poll_request="?"), *FIELDS) as bench:
        assert await bench.ask() == [100, 200]
        device.say(b"P=99 T=99\n")
        await asyncio.sleep(0.2)
        assert await bench.ask() == [200, 200]


async def test_after_an_unanswered_question_the_line_must_fall_silent(device):
    bus = bus_at(device.path, poll_request="?", timeout_s=0.3)
    device.answer(lambda number: b"" if number == 1 else b"P=%d T=20\n" % number)
    async with driven(bus, *FIELDS) as bench:
        with pytest.raises(DeviceError, match="no line"):
            await bench.ask()
        asked = asyncio.create_task(bench.ask())
        await asyncio.sleep(0.1)
        device.say(b"P=1 T=20\n")  # the late answer, within the quiet time
        assert await asked == [200, 200]


async def test_a_lost_port_is_a_device_error_and_is_opened_again(device):
    async with driven(bus_at(device.path), *FIELDS) as bench:
        await bench.driver.ensure_ready()
        device.close()
        with pytest.raises(DeviceError, match="link lost"):
            await bench.ask()
        with pytest.raises(DeviceError, match="cannot open"):
            await bench.ask()


async def test_a_pyserial_url_is_a_port_too():
    async def speak(reader, writer) -> None:
        for number in range(1000):
            writer.write(b"P=%d T=20\n" % number)
            await writer.drain()
            await asyncio.sleep(0.01)

    server = await asyncio.start_server(speak, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    async with polled(bus_at(f"socket://127.0.0.1:{port}"), *FIELDS) as bench:
        await bench.until(lambda: len(bench.samples) >= 5)
    server.close()
    times = [sample.t_ms for sample in bench.samples]
    assert times == sorted(set(times))
    raws = [sample.readings[0].raw for sample in bench.samples]
    assert raws == sorted(raws)
    assert bench.poller.requests[0].counts.failed == 0


async def test_a_pattern_that_cannot_serve_is_refused_before_anything_is_opened(device):
    with pytest.raises(InputError, match=r"bus field: the pattern has no group 'mm' \(it has: bar, degC\)"):
        async with driven(bus_at(device.path), text(Quantity.CARRIAGE, "mm")):
            pass
    with pytest.raises(InputError, match="pattern or encoding cannot be used"):
        async with driven(bus_at(device.path, encoding="klingon"), *FIELDS):
            pass


async def test_a_port_can_be_looked_over_the_shoulder(device, capfd):
    """spy:// prints what passes to stderr; the driver does not notice."""
    device.answer(lambda number: b"P=%d T=20\n" % number)
    spied = bus_at(f"spy://{device.path}", poll_request="?")
    async with driven(spied, *FIELDS) as bench:
        assert [await bench.ask() for _ in range(2)] == [[100, 200], [200, 200]]
    shown = capfd.readouterr().err
    assert shown.count(" TX ") == 2
    assert "3F" in shown, "the question mark"


class RemotePort:
    """A port server by RFC 2217 with a plug that sends everything back; pyserial's own server side."""

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self._plug = serial.serial_for_url("loop://", timeout=0.02)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._serve)
        self._thread.start()
        self.baudrates: list[int] = []

    def close(self) -> None:
        self._over.set()
        self._thread.join()
        self._listener.close()
        self._plug.close()

    def _serve(self) -> None:
        self._listener.settimeout(10)
        connection, _ = self._listener.accept()
        connection.settimeout(0.02)
        writer = connection.makefile("wb", buffering=0)
        manager = serial.rfc2217.PortManager(self._plug, writer)
        with connection, writer:
            while not self._over.is_set():
                with contextlib.suppress(TimeoutError):
                    received = connection.recv(1024)
                    if not received:
                        return
                    self._plug.write(b"".join(manager.filter(received)))
                    self.baudrates.append(self._plug.baudrate)
                if data := self._plug.read(self._plug.in_waiting):
                    writer.write(b"".join(manager.escape(data)))


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")
async def test_a_port_behind_a_network_server_is_set_and_read():
    remote = RemotePort()
    try:
        bus = bus_at(f"rfc2217://127.0.0.1:{remote.port}", poll_request="P=3 T=20\n")
        async with driven(bus, *FIELDS) as bench:
            assert [await bench.ask() for _ in range(2)] == [[300, 200], [300, 200]]
    finally:
        remote.close()
    assert remote.baudrates[-1] == 115200


async def test_a_modbus_frame_is_never_sent_as_a_text_request(device):
    frame = bytes.fromhex("010600010002")
    request = (frame + crc16(frame)).decode("latin-1")
    async with driven(bus_at(device.path, poll_request=request, encoding="latin-1"), *FIELDS) as bench:
        with pytest.raises(DeviceError, match="poll_request is a Modbus frame"):
            await bench.ask()
    assert device.asked == []
