"""`calibrate` at a device whose error is known, and the history that it leaves."""

import asyncio
import subprocess
import sys
from pathlib import Path

import pytest

from logger.config.rig_file import load_rig
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
]


def rig_text(port: int) -> str:
    return (
        f'name = "rig"\n[bus.b]\nkind = "modbus-tcp"\nhost = "127.0.0.1"\nport = {port}\ntimeout = "5 s"\n'
        '[channel.pressure]\nbus = "b"\nunit_id = 1\ntable = "input"\naddress = 0\ntype = "uint16"\n'
        'signal = "4-20 mA"\nscale = { raw = [4000, 20000], value = ["0 bar", "160 bar"] }\n'
    )


async def calibrated(
    rig_file: Path, device: Misbehaving, points: list[tuple[int, float]]
) -> tuple[int, str, str]:
    """Answer each question with the reference, after the device shows its raw number."""
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
        device.registers[0] = number
        process.stdin.write(f"{reference}\n".encode())
        while b"off by" not in (line := await process.stderr.readline()):
            assert line, told.decode()
            told += line
        told += line
    out, err = await process.communicate(b"\n")
    return process.returncode or 0, out.decode(), (told + err).decode()


async def test_a_channel_that_reads_too_high_is_put_right(tmp_path: Path) -> None:
    """4100 uA at 0 bar, 12100 at 80.8 and 20100 at 161.6: 0.0101 bar a count, 1 bar high at zero."""
    device = Misbehaving([4100])
    port = await device.serve_tcp()
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text(rig_text(port), encoding="utf-8")
    code, out, err = await calibrated(rig_file, device, [(4100, 0.0), (12100, 80.8), (20100, 161.6)])
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
    code, _, err = await calibrated(rig_file, device, [(4000, 0.0), (20000, 160.0)])
    await device.close()
    assert code == 0, err
    assert history.read_bytes().startswith(first), "the history only grows"
    shown = await asyncio.to_thread(beadwatch, "calibrate", rig_file)
    assert [line.split()[1:3] for line in shown.stdout.splitlines()] == [["pressure", "3"], ["pressure", "2"]]
    assert "certificate C-881" in shown.stdout


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["carriage", *WHO], "carriage: the rig has no such channel; it has pressure"),
        (["pressure"], "--by, --reference and --reference-uncertainty are needed"),
        (["pressure", *WHO, "--due", "2020-01-01"], "--due: 2020-01-01 is not after today"),
        (["pressure", *WHO, "--due", "soon"], '--due: "soon" is no date'),
    ],
)
def test_what_makes_no_record_is_refused(tmp_path: Path, arguments: list[str], message: str) -> None:
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text(rig_text(1), encoding="utf-8")
    refused = beadwatch("calibrate", rig_file, *arguments)
    assert refused.returncode == 3
    assert message in refused.stderr
