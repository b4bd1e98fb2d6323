"""A recorder on a record of its own, without a rig: its phase is what the test says."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from logger.config.rig_file import load_rig
from logger.daemon.archive import Archive
from logger.daemon.clock import MachineClock
from logger.daemon.desk import Desk
from logger.daemon.recorder import Recorder
from logger.daemon.view import View
from logger.domain.channel import Quantity
from logger.domain.phase import Phase
from logger.domain.record import RecorderRun
from logger.domain.sample import RawReading, RawSample
from logger.store.writer import Writer
from logger.wire.desk import OpenCommand
from logger.wire.entry import JointEntry, PipeEntry
from tests.system.processes import DEMO

ENTRY = JointEntry(
    joint="A-1",
    operator="R. Okafor",
    project="Lower Weir",
    procedure="dvs-2207-1:2015",
    ambient_temperature="20 degC",
    ambient_instrument="T-4",
    drag_pressure="8 bar",
    pipe=PipeEntry(material="PE100", outside_diameter="63 mm", sdr="11", code="LOT 7", out_of_round="0.2 mm"),
)


@dataclass
class Bench:
    recorder: Recorder
    desk: Desk
    archive: Archive
    view: View
    writer: Writer

    async def open(self, **changed: object) -> str:
        entry = ENTRY.model_copy(update=changed)
        return (await self.desk.start(OpenCommand(entry=entry))).joint_uuid

    def enter(self, phase: Phase | None) -> None:
        """The tracker says that this phase is on."""
        record = self.recorder.open_record
        assert record is not None
        record.session = replace(record.session, tracked=replace(record.session.tracked, phase=phase))

    def poll(self, t_s: float, raw: int = 100) -> None:
        """One reading of the pressure, `t_s` after the joint was opened."""
        record = self.recorder.open_record
        assert record is not None
        reading = RawReading(quantity=Quantity.PRESSURE, raw=raw)
        t_ms = record.epoch_ms + round(t_s * 1000)
        self.recorder.on_sample(RawSample(t_ms=t_ms, half_width_ms=1, readings=(reading,)))

    async def end(self) -> None:
        await self.desk.abort("tried")


@asynccontextmanager
async def recorder_bench(folder: Path) -> AsyncIterator[Bench]:
    clock = MachineClock()
    store = folder / "record.db"
    rig_text = (DEMO / "rig.toml").read_text(encoding="utf-8")
    installation = load_rig(DEMO / "rig.toml")
    writer = Writer(store, at=clock.stamp())
    try:
        writer.start_run(
            RecorderRun(
                boot_id="boot", started=clock.stamp(), software="0", time_scale=1.0, clock_source="test"
            )
        )
        recorder = Recorder(installation, rig_text, clock, writer)
        archive = Archive(store)
        desk = Desk(recorder, installation.rig, archive, writer, clock)
        yield Bench(recorder, desk, archive, View(recorder), writer)
        await recorder.settled()
    finally:
        writer.close()
