"""`calibrate` at a device whose error is known, and the history that it leaves."""

import asyncio
import contextlib
import os
import subprocess
import sys
import tty
from collections.abc import Callable
from pathlib import Path

import pytest

from logger.config.rig_file import load_rig
from logger.domain.bus import LineField
from logger.domain.channel import Quantity
from simulators.misbehave import Misbehaving
from tests.system.processes import ROOT, beadwatch

pytestmark = pytest.mark.system

WHO = [
    "--by",
    "Ines Falk",
    "--reference",
    "gauge G-4",
    "--certificate",
    "C-881",
    "--reference-uncertainty",
    "0.1",
    "--reference-due",
    "2099-06-30",
]


def rig_text(port: int) -> str:
    return (
        f'name = "rig"\n[bus.b]\nkind = "modbus-tcp"\nhost = "127.0.0.1"\nport = {port}\ntimeout = "5 s"\n'
        '[channel.pressure]\nbus = "b"\nunit_id = 1\ntable = "input"\naddress = 0\ntype = "uint16"\n'
        'signal = "4-20 mA"\nscale = { raw = [4000, 20000], value = ["0 bar", "160 bar"] }\n'
    )


async def calibrated(
    rig_file: Path, show: Callable[[int], None], points: list[tuple[int, float]]
) -> tuple[int, str, str]:
    """Answer each question with the reference, after the device was made to show its raw number."""
    arguments = ["-m", "logger", "calibrate", str(rig_file), "pressure", "--seconds", "0.6", *WHO]
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        *arguments,
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdin
    assert process.stderr
    told = b""
    for number, reference in points:
        show(number)
        process.stdin.write(f"{reference}\n".encode())
        while b"off by" not in (line := await process.stderr.readline()):
            assert line, told.decode()
            told += line
        told += line
    out, err = await process.communicate(b"\n")
    return process.returncode or 0, out.decode(), (told + err).decode()


def shows(device: Misbehaving) -> Callable[[int], None]:
    return lambda number: device.registers.__setitem__(0, number)


async def test_a_channel_that_reads_too_high_is_put_right(tmp_path: Path) -> None:
    """4100 uA at 0 bar, 12100 at 80.8 and 20100 at 161.6: 0.0101 bar a count, 1 bar high at zero."""
    device = Misbehaving([4100])
    port = await device.serve_tcp()
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text(rig_text(port), encoding="utf-8")
    code, out, err = await calibrated(rig_file, shows(device), [(4100, 0.0), (12100, 80.8), (20100, 161.6)])
    await device.close()
    assert code == 0, err
    assert "prove zero pressure" in err
    assert "off by +1" in err
    scale = next(line for line in out.splitlines() if line.startswith("scale"))
    assert scale == 'scale = { raw = [4000, 20000], value = ["-1.01 bar", "160.59 bar"] }'

    corrected = rig_text(port).replace('scale = { raw = [4000, 20000], value = ["0 bar", "160 bar"] }', scale)
    rig_file.write_text(corrected, encoding="utf-8")
    channel = load_rig(rig_file).rig.channel_of(Quantity.PRESSURE)
    assert channel is not None
    assert channel.scaling.value_of(12100) == pytest.approx(80.8)

    history = rig_file.with_name("rig.calibrations.jsonl")
    first = history.read_bytes()
    device = Misbehaving([4100])
    rig_file.write_text(rig_text(await device.serve_tcp()), encoding="utf-8")
    code, _, err = await calibrated(rig_file, shows(device), [(4000, 0.0), (20000, 160.0)])
    await device.close()
    assert code == 0, err
    assert history.read_bytes().startswith(first), "the history only grows"
    shown = await asyncio.to_thread(beadwatch, "calibrate", rig_file)
    assert [line.split()[1:3] for line in shown.stdout.splitlines()] == [["pressure", "3"], ["pressure", "2"]]
    assert "against gauge G-4 (certificate C-881, itself due 2099-06-30)" in shown.stdout


class TextGauge:
    """A pty that streams what a pressure gauge shows, in hundredths of psi."""

    def __init__(self) -> None:
        self.hundredths = 0
        self._master, slave = os.openpty()
        tty.setraw(slave)
        self.path = os.ttyname(slave)
        self._task = asyncio.get_running_loop().create_task(self._stream())

    async def _stream(self) -> None:
        os.set_blocking(self._master, False)
        while True:
            with contextlib.suppress(BlockingIOError):
                os.write(self._master, b"P %.2f psi\r\n" % (self.hundredths / 100))
            await asyncio.sleep(0.05)

    async def close(self) -> None:
        self._task.cancel()
        await asyncio.gather(self._task, return_exceptions=True)
        os.close(self._master)


async def test_a_text_device_is_calibrated_too(tmp_path: Path) -> None:
    """It shows psi and 0.5 bar too little: 0 is 0.5 bar, 1450.38 is 100.5 bar."""
    gauge = TextGauge()
    rig_file = tmp_path / "rig.toml"
    text = (
        f'name = "rig"\n[bus.b]\nkind = "serial-line"\npath = "{gauge.path}"\n'
        "pattern = 'P (?P<p>[0-9.-]+) psi'\n"
        '[channel.pressure]\nbus = "b"\nfield = "p"\n'
        'scale = { raw = [0, 100], value = ["0 psi", "100 psi"] }\n'
    )
    rig_file.write_text(text, encoding="utf-8")

    def show(hundredths: int) -> None:
        gauge.hundredths = hundredths

    code, out, err = await calibrated(rig_file, show, [(0, 0.5), (72519, 50.5), (145038, 100.5)])
    await gauge.close()
    assert code == 0, err
    assert "off by -0.5" in err
    scale = next(line for line in out.splitlines() if line.startswith("scale"))
    old = next(line for line in text.splitlines() if line.startswith("scale"))
    rig_file.write_text(text.replace(old, scale), encoding="utf-8")
    (binding,) = load_rig(rig_file).bindings
    assert isinstance(binding.point, LineField)
    assert binding.point.meaning.value_at(1450.38) == pytest.approx(100.5, abs=0.01)
    assert binding.point.meaning.value_at(0.0) == pytest.approx(0.5, abs=0.01)
