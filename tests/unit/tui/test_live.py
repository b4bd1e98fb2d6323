"""The live screen as the operator meets it: keys, bell, sizes, and what can go wrong on the way."""

import os

import pytest

from logger.errors import DeviceError
from logger.wire.live import Accepted, AlarmMessage, StoreMessage
from tests.unit.tui.fake_link import UUID, FakeLink, channel, samples, state, update
from tests.unit.tui.screens import GOLDEN, message_at, text_of
from tui.app import AGAIN_S, Choices, MonitorApp
from tui.link import Lost
from tui.model import OLD_AFTER_S
from tui.screens.base import KEYS
from tui.widgets.figure import Figure
from tui.widgets.lines import UNBROKEN, Lines

BEAD_UP, SOAK, NEAR, COUNT, SOAKED, CHANGE, BUILD, COOL, COOLED, AFTER = (
    125.0, 150.0, 178.0, 188.0, 194.0, 197.0, 201.0, 300.0, 580.0, 590.0,
)  # fmt: skip
ACCEPTED = Accepted(joint_uuid=UUID, attempt=1)


class Clock:
    """A clock that a test turns."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


class Watched:
    """The monitor on a screen of a size, at a moment of the clean joint."""

    def __init__(self, at_s=COOL, *, size=(80, 24), theme="dark", **changes):
        self.link = FakeLink(message_at(at_s, **changes))
        self.link.answers = {"/v1/joint/bead": ACCEPTED, "/v1/joint/abort": ACCEPTED}
        self.clock = Clock()
        self.app = MonitorApp(self.link, Choices(theme=theme), clock=self.clock)
        self._running = self.app.run_test(size=size)

    async def __aenter__(self):
        self.pilot = await self._running.__aenter__()
        await self.settle()
        return self

    async def __aexit__(self, *error):
        await self._running.__aexit__(*error)

    async def settle(self):
        """Until nothing moves any more: the words, and the places that the layout gives them later."""
        await self.pilot.pause()
        before = None
        while before != (now := (self.text, [w.region for w in self.app.screen.walk_children()])):
            before = now
            await self.pilot.pause()
            await self.pilot.pause()

    async def tell(self, message):
        self.link.tell(message)
        await self.settle()

    async def press(self, *keys):
        for key in keys:
            self.clock.now_s += 1.0
            await self.tell(update(self.app.picture.state))
            await self.pilot.press(key)
            await self.settle()

    async def hear(self, beats):
        """Until the bell has sounded so often."""
        while self.app.beats < beats:
            await self.pilot.pause(0.02)
        assert self.app.beats == beats

    @property
    def text(self):
        return text_of(self.app)

    @property
    def keys(self):
        return " ".join(self.app.screen.query_one(f"#{KEYS}", Lines).paragraphs).replace(UNBROKEN, " ")

    @property
    def figure(self):
        return self.app.screen.query_one("#figure", Figure).paragraphs[0]


MOMENTS = {
    "preparation": 60.0,
    "bead-up": BEAD_UP,
    "soak": SOAK,
    "soak-near": NEAR,
    "soak-count": COUNT,
    "soaked": SOAKED,
    "changeover": CHANGE,
    "build-up": BUILD,
    "cooling": COOL,
    "cooled": COOLED,
    "released": AFTER,
}


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12)], ids=str)
@pytest.mark.parametrize("name", MOMENTS)
async def test_the_screen_is_as_it_was_looked_at(name, size):
    """Set BEADWATCH_GOLDEN to write the pictures anew; then look at every one."""
    async with Watched(MOMENTS[name], size=size) as watched:
        shown = watched.text
    file = GOLDEN / f"live-{name}-{size[0]}x{size[1]}.txt"
    if os.environ.get("BEADWATCH_GOLDEN"):
        file.parent.mkdir(exist_ok=True)
        file.write_text(shown, encoding="utf-8")
    assert shown == file.read_text(encoding="utf-8")


@pytest.mark.parametrize("theme", ["light", "mono"])
async def test_nothing_is_said_by_colour_alone(theme):
    async with Watched(NEAR) as dark, Watched(NEAR, theme=theme) as other:
        assert dark.text == other.text


async def test_old_data_has_no_figure_and_says_what_to_use():
    async with Watched(COOL) as watched:
        assert watched.figure == "4:38"
        watched.clock.now_s += OLD_AFTER_S + 0.1
        watched.app.look()
        await watched.settle()
        assert watched.figure == ""
        assert "Use the gauge and your watch." in watched.text
        assert "NO LINK" in watched.text
        assert "10.5" not in watched.text
        await watched.tell(message_at(COOL + 3))
        assert watched.figure == "4:35"
        assert "NO LINK" not in watched.text


async def test_a_lost_link_is_said_at_once():
    async with Watched(COOL) as watched:
        await watched.tell(Lost(reason="the recorder closed the link"))
        assert watched.figure == ""
        assert "NO LINK" in watched.text


async def test_an_unsure_phase_has_no_figure():
    async with Watched(COOL, unsure="gap") as watched:
        assert watched.figure == ""
        assert "Use the gauge and your watch." in watched.text
        assert "readings were missing" in watched.text


async def test_a_lost_sensor_is_named_and_its_figure_goes():
    lost = (channel("pressure", 10.5, "bar", "lost"), channel("plate_temperature", 220.0, "degC"))
    async with Watched(COOL, channels=lost) as watched:
        assert watched.figure == ""
        assert "SENSOR pressure: no readings" in watched.text
        assert "10.5\n" not in watched.text


@pytest.mark.parametrize(
    ("quality", "why"),
    [
        ("loop_low", "broken wire?"),
        ("loop_high", "over-range or short circuit"),
        ("disagrees", "differs from the second sensor"),
        ("stuck", "stuck"),
        ("out_of_range", "outside its range"),
        ("not_a_number", "says no number"),
    ],
)
async def test_a_sensor_that_is_not_used_says_why(quality: str, why: str):
    unused = channel("pressure", None, "bar").model_copy(update={"quality": quality})
    async with Watched(COOL, channels=(unused, channel("plate_temperature", 220.0, "degC"))) as watched:
        assert f"SENSOR pressure: {why}" in watched.text
        assert "sensors ok" not in watched.text


async def test_one_reading_that_came_too_fast_is_no_trouble_of_its_sensor():
    unused = channel("pressure", None, "bar").model_copy(update={"quality": "too_fast"})
    async with Watched(COOL, channels=(unused,)) as watched:
        assert "SENSOR" not in watched.text


async def test_a_lost_plate_sensor_leaves_the_time():
    lost = (channel("pressure", 10.5, "bar"), channel("plate_temperature", 220.0, "degC", "lost"))
    async with Watched(COOL, channels=lost) as watched:
        assert watched.figure == "4:38"
        assert "Plate no reading" in watched.text
        assert "SENSOR plate: no readings" in watched.text


async def test_a_full_store_is_said():
    full = StoreMessage(error="database or disk is full", pending=120, dropped=3)
    async with Watched(COOL, store=full) as watched:
        assert "NOT RECORDED on disk: database or disk is full" in watched.text
        assert "3 samples lost" in watched.text


async def test_an_alarm_of_the_recorder_stands_on_the_screen():
    alarm = AlarmMessage(code="seal.failed", text="the record could not be sealed")
    async with Watched(COOL, alarms=(alarm,)) as watched:
        assert "the record could not be sealed" in watched.text


@pytest.mark.parametrize("at_s", [SOAKED, CHANGE, BUILD])
async def test_no_key_acts_from_the_end_of_the_soak_until_cooling(at_s):
    async with Watched(at_s) as watched:
        before = watched.text
        assert "No key is needed now" in before
        for key in ("x", "b", "c", "q", "t", "u", "z", "f9", "f4", "ctrl+q", "ctrl+c"):
            await watched.press(key)
            assert watched.text == before, key
        assert watched.link.posted == []
        assert watched.app.beats == 0
        assert watched.app.is_running


async def test_one_key_confirms_the_bead():
    async with Watched(BEAD_UP) as watched:
        assert "[B] bead seen" in watched.text
        await watched.press("b")
        ((path, command),) = watched.link.posted
        assert path == "/v1/joint/bead"
        assert command.by
        assert "Bead recorded as seen." in watched.text
        await watched.tell(update(state("bead_up", 118.0, 126.0, bead_by="J. Tarrow", bead_at_s=125.5)))
        assert "[B]" not in watched.text
        assert "Let the pressure down to 8.1 bar or less" in watched.text


async def test_a_second_press_at_once_is_the_same_press():
    async with Watched(BEAD_UP) as watched:
        await watched.pilot.press("b")
        watched.clock.now_s += AGAIN_S / 2
        await watched.pilot.press("b")
        watched.clock.now_s += AGAIN_S / 2
        await watched.pilot.press("b")
        await watched.settle()
        assert len(watched.link.posted) == 1


async def test_a_key_that_is_not_offered_does_nothing():
    async with Watched(SOAK) as watched:
        await watched.press("b", "c")
        assert watched.link.posted == []


async def test_what_was_not_done_is_said():
    async with Watched(BEAD_UP) as watched:
        watched.link.answers["/v1/joint/bead"] = DeviceError("no joint is open")
        await watched.press("b")
        assert "NOT DONE: no joint is open" in watched.text


async def test_breaking_off_asks_for_a_reason():
    async with Watched(SOAK) as watched:
        await watched.press("x", "enter")
        assert watched.link.posted == []
        await watched.press("escape")
        assert watched.link.posted == []
        await watched.press("x", *"mains failed", "enter")
        ((path, command),) = watched.link.posted
        assert (path, command.reason) == ("/v1/joint/abort", "mains failed")


async def test_no_question_stands_before_the_changeover():
    async with Watched(SOAK) as watched:
        await watched.press("q")
        assert "Close the monitor?" in watched.text
        await watched.tell(message_at(NEAR))
        await watched.settle()
        assert "Close the monitor?" not in watched.text
        assert "HANDS CLEAR" in watched.text


async def test_leaving_is_asked():
    async with Watched(COOL) as watched:
        await watched.press("q", "n")
        assert watched.app.is_running
        await watched.press("q", "y")
        assert not watched.app.is_running


async def test_the_bell_warns_once_before_the_changeover_and_is_still_in_it():
    async with Watched(SOAK) as watched:
        assert watched.app.beats == 0
        for at_s in (NEAR, NEAR + 1, COUNT):
            await watched.tell(message_at(at_s))
        await watched.hear(2)
        await watched.tell(message_at(CHANGE))
        await watched.pilot.pause(0.3)
        assert watched.app.beats == 2


async def test_the_test_key_sounds_the_bell():
    async with Watched(COOL) as watched:
        await watched.press("f9")
        await watched.hear(2)
        assert "Bell test: prepare" in watched.text


async def test_the_gauge_is_read_in_the_unit_of_choice():
    async with Watched(COOL) as watched:
        assert "bar; plan 10.3 to 10.6" in watched.text
        await watched.press("u")
        assert "MPa; plan 1.03 to 1.06" in watched.text
        await watched.press("u")
        assert "psi; plan 150 to 154" in watched.text


async def test_deviations_say_how_far_and_how_long():
    async with Watched(COOL) as watched:
        begin = len(watched.app.picture.pressure)
        times = [300.1 + k / 10 for k in range(60)]
        run = samples(begin + 1, times, [8.3] * 60, [220.0] * 60)
        await watched.tell(update(state("cooling", 203.8, times[-1], pressure_bar=8.3), run))
        await watched.hear(4)
        assert "! cooling: pressure too low by 2.0 bar, for 6 s" in watched.text


async def test_the_window_may_shrink_and_grow_at_any_time():
    async with Watched(COOL, size=(120, 40)) as watched:
        for size in ((40, 12), (20, 6), (80, 24), (200, 60), (40, 12)):
            await watched.pilot.resize_terminal(*size)
            await watched.settle()
            await watched.tell(message_at(COOL))
        for words in ("COOLING", "left", "10.4 bar", "Hold 10.3 to 10.6 bar", "link ok"):
            assert words in watched.text


async def test_without_a_recorder_it_says_so():
    app = MonitorApp(FakeLink(Lost(reason="no such file")), clock=Clock())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.pause()
        assert "NO RECORDER" in text_of(app)
        assert "NO LINK" in text_of(app)
