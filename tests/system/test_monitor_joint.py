"""A whole joint at the monitor alone: typed, prepared, made, marked, looked at, signed off, found again."""

import pytest

from logger.store.reader import Reader
from tests.system.processes import Recorder, Simulator
from tests.system.test_monitor import Watcher, at_a_scale_that_holds
from tui.screens.after import AfterScreen
from tui.screens.preparation import PreparationScreen
from tui.widgets.form import Form

pytestmark = [pytest.mark.system, pytest.mark.timeout(600)]

ENTRY = {
    "joint": "A-1",
    "operator": "R. Okafor",
    "project": "Lower Weir",
    "procedure": "dvs-2207-1:2015",
    "pipe.material": "PE100",
    "pipe.outside_diameter": "63 mm",
    "pipe.sdr": "11",
    "pipe.code": "LOT 7",
    "ambient_temperature": "20 degC",
    "ambient_instrument": "T-4",
}
VALUES = {"mm": "0.2", "degC": "221", "bar": "8"}
"""What is measured, without its unit."""


class Operator(Watcher):
    """Knows keys and reads the screen, nothing else."""

    async def type_in(self, key: str, text: str) -> None:
        """Go to a field with the arrow and fill it in."""
        form = self.app.screen.query_one(Form)
        while form.here is None or form.here.field.key != key:
            await self.pilot.press("down")
        await self.pilot.press(*text)

    async def enter(self) -> None:
        await self.pilot.press("f1")
        await self.until(lambda: bool(self.app.screen.query(Form)), "the entry")
        for key, text in ENTRY.items():
            await self.type_in(key, text)
        await self.until(lambda: "All there. F8 opens the joint" in self.text, "a joint that can be opened")
        await self.until(lambda: "heat soak: at least 58 s" in self.text, "its plan")
        await self.pilot.press("f8")
        await self.until(lambda: "PREPARATION: 0 of" in self.text, "the checklist")

    async def prepare(self) -> None:
        screen = self.app.screen
        assert isinstance(screen, PreparationScreen)
        await self.until(lambda: self.app.picture.operator == ENTRY["operator"], "the operator's name")
        for count, check in enumerate(screen.checks):
            if check.item == "shelter":
                await self.pilot.press("s", *"in a hall", "enter")
            else:
                await self.pilot.press("d")
            if check.unit:
                await self.until(lambda: len(self.app.screen_stack) == 3, "the value's question")
                await self.pilot.press(*VALUES[check.unit], "f8")
            answered = count + 1
            await self.until(lambda n=answered: self.answered(screen) == n, f"an answer for {check.item}")
            # The next key is another one, however soon it comes.
            self.app._pressed = ("", 0.0)
        assert f"{len(screen.checks) - 1} of {len(screen.checks)} done, 1 skipped" in self.text
        assert "Drag confirmed: 8.0 bar" in self.text

    def answered(self, screen: PreparationScreen) -> int:
        is_closed = self.app.screen is screen
        return sum(check.said is not None for check in screen.checks) if is_closed else -1

    async def make(self) -> None:
        await self.pilot.press("f4")
        await self.until(lambda: "BEAD-UP   next" in self.text, "bead-up")
        await self.pilot.press("b")
        await self.until(lambda: "No key is needed now" in self.text, "silence of the keys")
        await self.until(lambda: "COOLING   next" in self.text, "cooling")

    async def mark(self) -> None:
        await self.pilot.press("f3")
        await self.until(lambda: "[M] mark here" in self.text.replace("\u00a0", " "), "the marks")
        await self.pilot.press("m")
        await self.until(lambda: len(self.app.screen_stack) == 3, "the mark's question")
        await self.pilot.press(*["right"] * 5, "f8")
        await self.until(lambda: "marked by hand" in self.text, "the mark beside what was detected")

    async def close(self) -> None:
        await self.until(lambda: self.app.picture.verdict != "", "the verdict")
        await self.pilot.press("f5")
        await self.until(lambda: "Joint A-1: curve " in self.text, "the joint that has ended")
        await self.pilot.press("v")
        await self.until(lambda: "The joint as you see it" in self.text, "the look")
        await self.pilot.press(
            *"9", "down", *"10", "down", "right", "down", *"0.3", "down", *"even", "down", "right"
        )
        await self.pilot.press("f8")
        await self.until(lambda: "Examination recorded." in self.text, "the examination")
        await self.pilot.press("s")
        await self.until(lambda: "Sign off joint A-1" in self.text, "the sign-off")
        await self.pilot.press("right", "down", "right", "f8")
        await self.until(lambda: "Signed off by R. Okafor" in self.text, "the joint closed")
        assert isinstance(self.app.screen, AfterScreen)

    async def look_back(self) -> None:
        await self.pilot.press("f6")
        await self.until(lambda: "HISTORY: 1 joints" in self.text, "the list")
        await self.pilot.press("enter")
        await self.until(lambda: "A-1: full line" in self.text, "the curve")


async def test_a_joint_is_made_from_entry_to_sign_off_at_the_monitor_alone(folder):
    await at_a_scale_that_holds(folder, from_entry_to_sign_off)


async def from_entry_to_sign_off(recorder: Recorder, rig: Simulator) -> None:
    rig.pause()
    with recorder.recording(None):
        operator = Operator(recorder)
        async with operator.watching():
            await operator.until(lambda: operator.app.picture.state is not None, "the recorder")
            await operator.enter()
            await operator.prepare()
            rig.resume()
            await operator.make()
            await operator.mark()
            await operator.close()
            await operator.look_back()
            await operator.pilot.press("f1")
            await operator.until(lambda: "Still needed: joint number" in operator.text, "the next joint")
            offered = operator.app.screen.query_one(Form).answers
    kept = ("pipe.outside_diameter", "pipe.code", "ambient_temperature")
    assert [offered[key] for key in kept] == ["63 mm", "", ""]
    assert recorder.joint().number == "A-1"
    assert "bead.not_confirmed" not in recorder.event_codes()
    with Reader(recorder.store) as reader:
        kinds = {said.kind for said in reader.statements_of(recorder.joint().header.uuid)}
    assert kinds == {"ambient", "preparation", "drag", "bead", "mark", "visual", "sign_off"}
