"""`commission` at the simulated rig, its levers moved during the trials, and the sheet that it leaves."""

import asyncio
import contextlib
import hashlib
import json
import subprocess
import sys
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from logger.config.rig_file import load_rig
from tests.system.processes import ROOT, beadwatch

pytestmark = pytest.mark.system

Levers = list[tuple[float, str]]
"""Seconds to wait, then what is typed at the simulator."""


@dataclass
class Rig:
    """The simulated rig: its bus table, and its stdin."""

    process: asyncio.subprocess.Process
    bus: str

    async def do(self, levers: Levers) -> None:
        assert self.process.stdin
        for wait_s, line in levers:
            await asyncio.sleep(wait_s)
            self.process.stdin.write(f"{line}\n".encode() if line else b"")
            await self.process.stdin.drain()


@contextlib.asynccontextmanager
async def levers(*port: str) -> AsyncIterator[Rig]:
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        *("-m", "simulators", "levers", "clean", *port),
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert process.stdin
    assert process.stdout
    ready = json.loads(await process.stdout.readline())
    if ready["tcp"]:
        bus = f'kind = "modbus-tcp"\nhost = "127.0.0.1"\nport = {ready["tcp"]["port"]}\n'
    else:
        path = ready["rtu"]["path"]
        bus = f'kind = "modbus-rtu"\npath = "{path}"\nbaudrate = 115200\nworst_latency = "0.1 s"\n'
    yield Rig(process, bus)
    process.stdin.close()
    assert await process.wait() == 0


PLATE = 'valid = ["0 degC", "350 degC"]'


def rig_text(bus: str, plate: str = PLATE, rate_hz: int = 10) -> str:
    """A rig with four channels; without `plate` nothing tells a broken wire of the plate's sensor."""
    return (
        'name = "Heron 160"\nserial = "HF-1"\ncylinder_area = "6.29 cm2"\norigin = "simulated"\n'
        f"[bus.b]\n{bus}"
    ) + "".join(
        f'[channel.{name}]\nbus = "b"\nunit_id = 1\ntable = "input"\naddress = {address}\n'
        f'type = "uint16"\nrate = "{rate_hz} Hz"\n{keys}\n'
        for address, (name, keys) in enumerate(
            {
                "pressure": 'signal = "4-20 mA"\n'
                'scale = { raw = [6400, 32000], value = ["0 bar", "250 bar"] }',
                "plate_temperature": f'gain = "0.1 degC"\noffset = "0 degC"\n{plate}',
                "carriage": 'gain = "0.02 mm"\noffset = "-20 mm"\nvalid = ["-15 mm", "400 mm"]',
                "plate_in": "",
            }.items()
        )
    )


@dataclass
class Done:
    """What a commissioning left; `results` by trial and subject."""

    document: dict[str, Any]
    out: list[str]
    told: str

    @property
    def results(self) -> dict[tuple[str, str], dict[str, Any]]:
        return {(one["trial"], one["subject"]): one for one in self.document["results"]}

    def outcome(self, trial: str, subject: str = "") -> str:
        return str(self.results[trial, subject]["outcome"])


Answer = str | tuple[Levers, str]
"""What is answered to a question, where need be after levers were moved."""


async def commissioned(
    rig_file: Path, rig: Rig, trials: list[str], answers: list[Answer], moves: list[Levers]
) -> Done:
    """Answer question by question; `moves` are made watch by watch."""
    store = rig_file.with_name("record.db")
    arguments = ["-m", "logger", "commission", str(rig_file), "--by", "Ines Falk", "--strokes", "1"]
    arguments += ["--seconds", "7", "--leak-seconds", "6", "--store", str(store)]
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
    told, questions, watches, moving = b"", list(answers), list(moves), []
    while chunk := await process.stderr.read(4096):
        told += chunk
        # Counted in all that was told: a chunk may end in the middle of the words.
        while watches and len(moves) - len(watches) < told.count(b"  watching for "):
            moving.append(asyncio.create_task(rig.do(watches.pop(0))))
        if told.endswith(b": ") and questions:
            answer = questions.pop(0)
            if isinstance(answer, tuple):
                await rig.do(answer[0])
                answer = answer[1]
            process.stdin.write(f"{answer}\n".encode())
    out = (await process.stdout.read()).decode().splitlines()
    await asyncio.gather(*moving)
    assert await process.wait() == 0, told.decode()
    assert not questions, told.decode()
    return Done(json.loads(Path(out[0]).read_text(encoding="utf-8")), out, told.decode())


async def test_strokes_area_leak_down_and_plate_on_a_serial_line(tmp_path: Path) -> None:
    """Drag 8 bar with a breakaway of 9.6, of which a gauge with its lag shows what it can."""
    await asyncio.to_thread(beadwatch, "key", "init", "--store", tmp_path / "record.db")
    answers: list[Answer] = ["", "six", "", "6.3 cm2", ""]  # the area, asked again, and the stroke
    answers += [([(0.0, "hold 40"), (4.0, "")], ""), "0.05"]
    answers += ["", "T-9", "219 220 221", "", "T-9", "219 220 221 220", "218 219 219 218"]
    rig_file = tmp_path / "rig.toml"
    async with levers("--rtu", "--rig", '{"leak_down_bar_per_min": 6}') as rig:
        rig_file.write_text(rig_text(rig.bus), encoding="utf-8")
        done = await commissioned(
            rig_file,
            rig,
            ["area", "drag", "leak-down", "plate"],
            answers,
            [[(1.0, "stroke")]],
        )
    assert '"six" is not a number with a unit' in done.told, "an answer that is none is asked again"
    assert "4 points are needed at least" in done.told
    assert "only the operator drives the rig" in done.told
    assert done.outcome("area") == "passed"
    drag = done.results["drag", ""]
    assert drag["outcome"] == "measured"
    assert drag["figures"]["drag_bar"] == pytest.approx(8.0, abs=0.3)
    assert done.outcome("leak-down") == "measured"
    leak = done.results["leak-down", ""]["figures"]
    assert leak["begin_bar"] == pytest.approx(40.0, abs=1.0)
    assert leak["before_fitting_bar_per_min"] == 0.05
    assert leak["bar_per_min"] == pytest.approx(6.0, rel=0.4)
    face = done.results["plate", "face a"]["figures"]
    assert face["mean_degC"] == pytest.approx(220.0)
    assert face["built_in_degC"] == pytest.approx(220.0, abs=3.0)
    assert done.results["plate", "face a"]["note"] == "T-9"
    assert done.outcome("unplug") == "not done"
    sheet = pypdfium2.PdfDocument(done.out[1])
    text = " ".join(sheet[0].get_textpage().get_text_range().split())
    sheet.close()
    data = Path(done.out[0]).read_bytes()
    for part in ("Commissioning of Heron 160", "Ines Falk", "signature", hashlib.sha256(data).hexdigest()):
        assert part in text
    assert set(done.document["keys"]) == {"live", "demonstration"}


async def test_lag_wires_and_a_pulled_plug_on_tcp(tmp_path: Path) -> None:
    """The hydraulic lag of the simulated rig is 0.3 s here; each wire comes back, and so does the plug."""
    rig_file = tmp_path / "rig.toml"
    async with levers("--tcp", "127.0.0.1:0", "--rig", '{"hydraulic_lag_s": 0.3}') as rig:
        rig_file.write_text(rig_text(rig.bus), encoding="utf-8")
        done = await commissioned(
            rig_file,
            rig,
            ["lag", "wire", "unplug"],
            [([(0.0, "hold 40"), (4.5, "")], ""), "", "", "", ""],
            [
                [(5.0, "release")],
                [(1.0, "wire pressure 1.5")],
                [(1.0, "wire temperature 1.5")],
                [(1.0, "wire carriage 1.5")],
                [(1.0, "unplug 1.5")],
            ],
        )
        bus = rig.bus
    lag = done.results["lag", ""]
    assert lag["outcome"] == "measured"
    assert abs(lag["figures"]["lag_s"] - 0.3) < 3 * lag["figures"]["standard_uncertainty_s"]
    wire = done.results["wire", "pressure"]
    assert "loop at 3.6 mA or less: broken wire? for " in wire["note"]
    assert 0.5 < wire["figures"]["away_s"] < 5.0
    for subject in ("pressure", "plate_temperature", "carriage"):
        assert done.outcome("wire", subject) == "passed"
    assert ("wire", "plate_in") not in done.results, "a switch cannot tell"
    assert done.outcome("unplug", "b") == "passed"
    assert "gap" in done.results["unplug", "b"]["note"]

    rig_file.write_text(rig_text(bus) + "\n".join(done.out[3:]) + "\n", encoding="utf-8")
    found = load_rig(rig_file).rig.commissioned_lag
    assert found is not None
    assert found.lag_s == pytest.approx(lag["figures"]["lag_s"], rel=0.01)


async def test_what_passes_for_a_value_and_a_supply_that_breaks_down_are_told(tmp_path: Path) -> None:
    """At 2 Hz a gap is longer than 1.5 s: a machine that is slow for a moment makes none."""
    rig_file = tmp_path / "rig.toml"
    async with levers("--rtu") as rig:
        rig_file.write_text(rig_text(rig.bus, plate="", rate_hz=2), encoding="utf-8")
        held = await commissioned(rig_file, rig, ["power-dip"], [""], [[(1.0, "start")]])
        moves = [[(1.0, "wire temperature 2")], [(1.0, "dip 4")]]
        done = await commissioned(rig_file, rig, ["wire", "power-dip"], ["s", "", "k", "s", "", "k"], moves)
    assert held.outcome("power-dip") == "passed"
    assert done.outcome("wire", "pressure") == "not done"
    assert done.outcome("wire", "plate_temperature") == "failed"
    assert "passes for a value" in done.told
    assert done.outcome("power-dip") == "failed"
    assert "gap" in done.results["power-dip", ""]["note"]


async def test_what_ends_early_is_kept_as_not_done(tmp_path: Path) -> None:
    nowhere = 'kind = "modbus-tcp"\nhost = "127.0.0.1"\nport = 1\n'
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text(rig_text(nowhere), encoding="utf-8")
    async with levers("--rtu") as rig:
        done = await commissioned(rig_file, rig, [], ["", "6.29 cm2", "q"], [])
    assert done.outcome("area") == "passed"
    assert {one["outcome"] for key, one in done.results.items() if key[0] != "area"} == {"not done"}
    assert ("wire", "plate_temperature") in done.results


def test_nothing_tried_leaves_no_sheet(tmp_path: Path) -> None:
    rig_file = tmp_path / "rig.toml"
    rig_file.write_text(rig_text('kind = "modbus-tcp"\nhost = "127.0.0.1"\nport = 1\n'), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "logger", "commission", str(rig_file), "--by", "Ines Falk"],
        cwd=ROOT,
        input="s\nq\n",
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr.endswith("nothing was tried: no sheet is written\n")
    assert [file.name for file in tmp_path.iterdir()] == ["rig.toml"]
