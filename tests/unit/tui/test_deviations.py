"""Every deviation that a limit catches, said on the screen as it begins, with how far and how long.

The simulated rig's own curve goes through the real recorder, its state and samples as it tells them to
viewers; only the bus and the socket between them are left out, so that no time has to pass.
"""

import re
from itertools import groupby
from pathlib import Path

import pytest

from logger.acquire.health import ChannelState, HealthEvent
from logger.config.rig_file import rig_of
from logger.config.trace_file import load_trace
from logger.daemon.clock import boot_id
from logger.daemon.recorder import Recorder
from logger.daemon.view import View
from logger.domain.channel import Quantity
from logger.domain.record import RecorderRun
from logger.domain.sample import RawReading, RawSample, Sample
from logger.store.writer import Writer
from logger.wire.stream import SnapshotMessage, UpdateMessage
from tests.system.processes import JOINT_FILE
from tests.unit.daemon.bench import SetClock
from tests.unit.tui.test_live import Watched
from tui.model import Picture

CHANNELS = {
    Quantity.PRESSURE: ("pressure_bar", 0.001, "bar"),
    Quantity.PLATE_TEMPERATURE: ("plate_temperature_degC", 0.01, "degC"),
    Quantity.CARRIAGE: ("carriage_mm", 0.001, "mm"),
    Quantity.PLATE_IN: ("plate_in", 1, ""),
}
RIG_TEXT = """\
name = "rig on a bench"
cylinder_area = "6.29 cm2"
gauge_side = "line"
origin = "simulated"
[bus.none]
kind = "modbus-tcp"
host = "127.0.0.1"
""" + "".join(
    f'[channel.{quantity}]\nbus = "none"\nunit_id = 1\ntable = "holding"\naddress = {2 * place}\n'
    'type = "int32"\n' + (f'gain = "{gain} {unit}"\n' if unit else "")
    for place, (quantity, (_, gain, unit)) in enumerate(CHANNELS.items())
)
PREPARED_S, LOOK_EVERY_S = 100.0, 4.0
"""Nothing deviates before; from then on the screen is read so often."""
SEEN_WITHIN_S = 6
"""So short a time it has lasted when it is first said."""
FAR, LONG = r"by [\d.]+ {unit}", r", for (?P<lasted_s>\d+) s"

SAID = {
    # Scenario: what the screen says.
    "high-bead-up-pressure": r"! bead-up: pressure too high " + FAR.format(unit="bar") + LONG,
    "low-bead-up-pressure": r"! bead-up: pressure too low " + FAR.format(unit="bar") + LONG,
    "cold-plate": r"! bead-up: plate too cold " + FAR.format(unit="°C") + LONG,
    "hot-plate": r"! (bead-up|heat soak): plate too hot " + FAR.format(unit="°C") + LONG,
    "pressure-not-let-down": r"! heat soak: pressure too high " + FAR.format(unit="bar") + LONG,
    "short-soak": r"! heat soak: too short " + FAR.format(unit="s"),
    "contact-lost-in-soak": r"! heat soak: faces parted " + FAR.format(unit="mm") + LONG,
    "slow-changeover": r"! changeover: time limit passed " + FAR.format(unit="s") + LONG,
    "slow-build-up": r"! pressure build-up: time limit passed " + FAR.format(unit="s") + LONG,
    "second-closing": r"! (changeover|pressure build-up): faces parted " + FAR.format(unit="mm") + LONG,
    "overshoot": r"! (pressure build-up|cooling): pressure too high " + FAR.format(unit="bar") + LONG,
    "high-joining-pressure": r"! cooling: pressure too high " + FAR.format(unit="bar") + LONG,
    "low-joining-pressure": r"! cooling: pressure too low " + FAR.format(unit="bar") + LONG,
    "pressure-lost-in-cooling": r"! cooling: pressure too low " + FAR.format(unit="bar") + LONG,
    "early-release": r"! cooling: too short " + FAR.format(unit="(min \\d+ )?s"),
}  # fmt: skip


class Followed(Watched):
    """The monitor at a recorder that is fed a curve of the simulated rig."""

    def __init__(self, folder: Path):
        super().__init__(0.0, size=(80, 24))
        self.link._queue.get_nowait()
        self.recorder_clock = SetClock()
        self.writer = Writer(folder / "record.db", at=self.recorder_clock.stamp())
        self.writer.start_run(
            RecorderRun(
                boot_id=boot_id(), started=self.recorder_clock.stamp(), software="0", time_scale=1.0,
                clock_source="set",
            )
        )  # fmt: skip
        self.recorder = Recorder(rig_of(RIG_TEXT), RIG_TEXT, self.recorder_clock, self.writer)
        self.view = View(self.recorder)
        self._told = self._event = 0

    async def open(self):
        await self.recorder.start_joint(JOINT_FILE.read_text(encoding="utf-8"))
        for quantity in CHANNELS:
            present = HealthEvent(quantity=quantity, bus="none", state=ChannelState.PRESENT, t_ms=1_000_000)
            self.recorder.on_health(present)
        self.link.tell(SnapshotMessage(state=self.view.state(0), plan=self.view.plan(), samples=None))

    async def close(self):
        await self.recorder.settled()
        self.writer.close()

    async def __aenter__(self):
        await self.open()
        return await super().__aenter__()

    async def __aexit__(self, *error):
        await super().__aexit__(*error)
        await self.close()

    def take(self, sample: Sample) -> None:
        self.recorder_clock.now_s = 1000.0 + sample.t_s
        readings = tuple(
            RawReading(quantity=quantity, raw=round(value / gain) & 0xFFFFFFFF)
            for quantity, (field, gain, _) in CHANNELS.items()
            if (value := getattr(sample, field)) is not None
        )
        raw = RawSample(t_ms=round(self.recorder_clock.now_s * 1000), half_width_ms=2, readings=readings)
        self.recorder.on_sample(raw)

    def news(self) -> UpdateMessage:
        """What a viewer has not heard yet."""
        state, samples = self.view.state(self._event), self.view.samples(self._told, 100_000)
        self._told += len(samples.t_s) if samples else 0
        self._event = max((event.seq for event in state.events), default=self._event)
        return UpdateMessage(state=state, samples=samples)

    async def look(self) -> str:
        """Tell the viewer what is new; return what stands on the screen."""
        self.clock.now_s += LOOK_EVERY_S
        await self.tell(self.news())
        return self.text

    async def screens(self, trace: Path):
        """What stands on the screen from time to time, until the joint is over."""
        for at, group in groupby(load_trace(trace), key=lambda s: max(s.t_s, PREPARED_S) // LOOK_EVERY_S):
            for sample in group:
                self.take(sample)
            if self.recorder.open_record is None:
                return
            yield at * LOOK_EVERY_S, await self.look()


@pytest.mark.parametrize("scenario", SAID)
async def test_a_deviation_is_said_as_it_begins(scenario, tmp_path, trace_of_scenario):
    said, found, text = re.compile(SAID[scenario]), None, ""
    async with Followed(tmp_path) as followed:
        async for _, text in followed.screens(trace_of_scenario(scenario)):
            found = said.search(" ".join(text.split()))
            if found:
                break
    assert found, text
    assert int(found.groupdict().get("lasted_s", 0)) <= SEEN_WITHIN_S


async def test_a_clean_joint_deviates_nowhere(tmp_path, trace_of_scenario):
    async with Followed(tmp_path) as followed:
        async for at_s, text in followed.screens(trace_of_scenario("clean")):
            assert not re.search(r"^!", text, re.MULTILINE), (at_s, text)


async def test_a_clean_joint_deviates_not_even_for_a_moment(tmp_path, trace_of_scenario):
    """Neither on the ramps nor on the let-down, which are recognised later than they begin."""
    followed, picture, seen = Followed(tmp_path), Picture(), []
    await followed.open()
    picture.take(followed.link._queue.get_nowait(), 0.0)
    for sample in load_trace(trace_of_scenario("clean"))[::2]:
        followed.take(sample)
        if followed.recorder.open_record is None:
            break
        picture.take(followed.news(), 0.0)
        seen += [(sample.t_s, deviation) for deviation in picture.watch.seen]
    await followed.close()
    assert seen == []
