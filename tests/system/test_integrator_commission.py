"""`commission` at a device that strokes, lets go and loses its wire, and the sheet that it leaves."""

import asyncio
import hashlib
import json
import math
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from logger.config.rig_file import load_rig
from simulators.misbehave import Behaviour, Misbehaving
from tests.system.processes import ROOT, beadwatch

pytestmark = pytest.mark.system


def rig_text(port: int) -> str:
    return (
        'name = "Heron 160"\nserial = "HF-1"\ncylinder_area = "6.29 cm2"\n'
        f'[bus.b]\nkind = "modbus-tcp"\nhost = "127.0.0.1"\nport = {port}\ntimeout = "5 s"\n'
        '[channel.pressure]\nbus = "b"\nunit_id = 1\ntable = "input"\naddress = 0\ntype = "uint16"\n'
        'signal = "4-20 mA"\nscale = { raw = [4000, 20000], value = ["0 bar", "160 bar"] }\n'
        '[channel.plate_temperature]\nbus = "b"\nunit_id = 1\ntable = "input"\naddress = 1\ntype = "uint16"\n'
        'gain = "0.1 degC"\noffset = "0 degC"\n'
    )


def counts(bar: float) -> int:
    return round(4000 + 100 * bar)


Script = Callable[[Misbehaving], Any]


async def stroke(device: Misbehaving) -> None:
    """Rest, a breakaway peak, a plateau at 12 bar, rest."""
    for bar, seconds in ((0.0, 1.0), (18.0, 0.4), (12.0, 6.0), (0.0, 60.0)):
        device.registers[0] = counts(bar)
        await asyncio.sleep(seconds)


async def release(device: Misbehaving) -> None:
    """40 bar held, let go through a lag of 0.3 s."""
    device.registers[0] = counts(40.0)
    await asyncio.sleep(5.0)
    for k in range(400):
        device.registers[0] = counts(40.0 * math.exp(-k * 0.02 / 0.3))
        await asyncio.sleep(0.02)


async def pulled_wire(device: Misbehaving) -> None:
    await asyncio.sleep(2.0)
    device.registers[0] = 0
    await asyncio.sleep(2.0)
    device.registers[0] = counts(0.0)


async def nothing(_device: Misbehaving) -> None:
    return


async def commissioned(
    folder: Path, device: Misbehaving, trials: list[str], answers: list[str], happens: Script, seconds: str
) -> tuple[dict[str, Any], str, str, Path]:
    """Run the trials; `happens` begins with the first watch. Gives data, stdout, stderr and sheet."""
    rig_file = folder / "rig.toml"
    rig_file.write_text(rig_text(await device.serve_tcp()), encoding="utf-8")
    store = folder / "record.db"
    arguments = ["-m", "logger", "commission", str(rig_file), "--by", "Ines Falk", "--seconds", seconds]
    arguments += ["--store", str(store), "--strokes", "1"]
    arguments += [part for trial in trials for part in ("--test", trial)]
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        *arguments,
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdin
    assert process.stdout
    assert process.stderr
    process.stdin.write("".join(f"{answer}\n" for answer in answers).encode())
    process.stdin.close()
    told, happening = b"", None
    while line := await process.stderr.readline():
        told += line
        if b"watching" in line and happening is None:
            happening = asyncio.create_task(happens(device))
    out = (await process.stdout.read()).decode()
    code = await process.wait()
    if happening is not None:
        happening.cancel()
    await device.close()
    assert code == 0, told.decode()
    data, sheet = (Path(line) for line in out.splitlines()[:2])
    return json.loads(data.read_text(encoding="utf-8")), out, told.decode(), sheet


def outcomes(document: dict[str, Any]) -> dict[tuple[str, str], str]:
    return {(one["trial"], one["subject"]): one["outcome"] for one in document["results"]}


def result(document: dict[str, Any], trial: str) -> dict[str, Any]:
    return next(one for one in document["results"] if one["trial"] == trial)


async def test_strokes_and_area_stand_on_the_sheet(tmp_path: Path) -> None:
    await asyncio.to_thread(beadwatch, "key", "init", "--store", tmp_path / "record.db")
    answers = ["", "six", "", "6.3 cm2", ""]
    document, out, told, sheet = await commissioned(
        tmp_path, Misbehaving([4000, 2150]), ["area", "drag"], answers, stroke, "14"
    )
    assert '"six" is not a number with a unit' in told, "an answer that is none is asked again"
    assert "only the operator drives the rig" in told
    assert outcomes(document)["area", ""] == "passed"
    drag = result(document, "drag")
    assert drag["figures"]["drag_bar"] == pytest.approx(12.0, abs=0.1)
    assert drag["figures"]["breakaway_bar"] == pytest.approx(18.0, abs=0.1)
    assert outcomes(document)["leak-down", ""] == "not done"
    document_pdf = pypdfium2.PdfDocument(sheet)
    text = " ".join(document_pdf[0].get_textpage().get_text_range().split())
    document_pdf.close()
    data = Path(out.splitlines()[0]).read_bytes()
    for part in ("Commissioning of Heron 160", "Ines Falk", "signature", hashlib.sha256(data).hexdigest()):
        assert part in text
    assert set(document["keys"]) == {"live", "demonstration"}


async def test_the_lag_is_found_and_its_table_is_one_that_the_rig_file_takes(tmp_path: Path) -> None:
    document, out, _, _ = await commissioned(tmp_path, Misbehaving([4000, 2150]), ["lag"], [""], release, "8")
    lag = result(document, "lag")
    assert lag["outcome"] == "measured"
    assert abs(lag["figures"]["lag_s"] - 0.3) < 3 * lag["figures"]["standard_uncertainty_s"]
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text("\n".join(out.splitlines()[3:]) + "\n", encoding="utf-8")
    table = rig_file.read_text(encoding="utf-8")
    rig_file.write_text(rig_text(1) + table, encoding="utf-8")
    found = load_rig(rig_file).rig.commissioned_lag
    assert found is not None
    assert found.lag_s == pytest.approx(lag["figures"]["lag_s"], rel=0.01)


async def test_a_pulled_wire_is_seen_and_one_that_passes_for_a_value_is_told(tmp_path: Path) -> None:
    document, _, told, _ = await commissioned(
        tmp_path, Misbehaving([4000, 2150]), ["wire"], ["", ""], pulled_wire, "7"
    )
    assert outcomes(document)["wire", "pressure"] == "passed"
    wire = result(document, "wire")
    assert "loop_low" in wire["note"]
    assert 1.0 < wire["figures"]["away_s"] < 4.0
    assert outcomes(document)["wire", "plate_temperature"] == "failed"
    assert "passes for a value" in told


async def test_an_unplugged_converter_is_a_gap_that_ends(tmp_path: Path) -> None:
    script = [*[Behaviour()] * 20, *[Behaviour(delay_s=2.0)] * 1]
    document, _, _, _ = await commissioned(
        tmp_path, Misbehaving([4000, 2150], script), ["unplug"], [""], nothing, "7"
    )
    assert outcomes(document)["unplug", "b"] == "passed"
    assert "gap" in result(document, "unplug")["note"]


async def test_what_ends_early_is_kept_as_not_done(tmp_path: Path) -> None:
    document, _, _, _ = await commissioned(
        tmp_path, Misbehaving([4000, 2150]), [], ["", "6.29 cm2", "q"], nothing, "2"
    )
    found = outcomes(document)
    assert found.pop(("area", "")) == "passed"
    assert set(found.values()) == {"not done"}
    assert ("wire", "plate_temperature") in found


def test_nobody_is_refused(tmp_path: Path) -> None:
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text(rig_text(1), encoding="utf-8")
    refused = beadwatch("commission", rig_file)
    assert refused.returncode == 3
    assert "--by: is needed" in refused.stderr
