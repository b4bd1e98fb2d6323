"""The screens around the live one as they were looked at, in two sizes; colours say nothing by themselves."""

import os

import pytest

from logger.daemon.checklist import checklist_of
from logger.domain.judgement import Verdict
from logger.wire.live import DragOfferMessage
from tests.unit.tui.desk_answers import CHOICES, not_understood, planned
from tests.unit.tui.fake_link import UUID, FakeLink, plan, snapshot, state
from tests.unit.tui.screens import GOLDEN, message_at
from tests.unit.tui.stored_answers import SECOND_UUID, answers, listed, said, summary
from tests.unit.tui.test_live import COOL, Watched

NOTHING_OPEN = {"joint": None, "joint_uuid": None}
ENDED = {**NOTHING_OPEN, "last_joint": "K-117", "last_joint_uuid": UUID}
OFFER = DragOfferMessage(
    pressure_bar=8.06, spread_bar=0.2, breakaway_bar=9.1, at_s=24.0, is_closing_seen=True
)
MARK = said("mark", boundary="changeover", at_s=196.4, u_s=0.3, how="curve")


def idle(**values: object) -> object:
    return snapshot(state(**values), planned=False)


PICTURES = {
    # Name: what is heard, what is answered, the keys that lead there.
    "entry": (
        idle(**NOTHING_OPEN), {"/v1/choices": CHOICES, "/v1/plan": planned(attempt=2)}, ["f1", *"K-117"],
    ),
    "entry-mistake": (
        idle(**NOTHING_OPEN),
        {"/v1/choices": CHOICES, "/v1/plan": not_understood("pipe.sdr", "'x' is no number", "11", "17")},
        ["f1"],
    ),
    "preparation": (
        message_at(60.0, drag_offer=OFFER), {"/v1/checklist": checklist_of(UUID, plan(), ())},
        ["f2", *["down"] * 8],
    ),
    "preparation-value": (
        message_at(60.0), {"/v1/checklist": checklist_of(UUID, plan(), ())}, ["f2", *["down"] * 8, "d"],
    ),
    "by-hand": (message_at(COOL), answers(MARK), ["f3", *["pageup"] * 4]),
    "by-hand-watch": (message_at(COOL), answers(), ["f3", "w"]),
    "after": (idle(**ENDED), answers(verdict=Verdict.NONCONFORMING), ["f5"]),
    "after-look": (idle(**ENDED), answers(), ["f5", "v"]),
    "history": (
        idle(**NOTHING_OPEN),
        {
            **answers(), **answers(uuid=SECOND_UUID),
            "/v1/joints?limit=50&offset=0": listed(
                summary(), summary(SECOND_UUID, "K-118", "nonconforming")
            ),
        },
        ["f6", "enter"],
    ),
}  # fmt: skip


class Pictured(Watched):
    """A screen after the keys that lead to it."""

    def __init__(self, name, **options):
        super().__init__(COOL, **options)
        message, known, self._keys = PICTURES[name]
        self.link = FakeLink(message)
        self.link.answers = dict(known)
        self.app.link = self.link

    async def __aenter__(self):
        await super().__aenter__()
        for key in self._keys:
            await self.pilot.press(key)
            await self.settle()
        await self.pilot.pause(0.3)
        await self.settle()
        return self


SIZES = ((80, 24), (120, 40))
LOOKED_AT = [
    (name, size)
    for name in PICTURES
    for size in SIZES
    # Behind this dialog the list stands one line up or down, as its scrolling came to rest.
    if (name, size) != ("preparation-value", (80, 24))
]


@pytest.mark.parametrize(("name", "size"), LOOKED_AT, ids=str)
async def test_the_screen_is_as_it_was_looked_at(name, size):
    """Set BEADWATCH_GOLDEN to write the pictures anew; then look at every one."""
    async with Pictured(name, size=size) as pictured:
        shown = pictured.text
    file = GOLDEN / f"{name}-{size[0]}x{size[1]}.txt"
    if os.environ.get("BEADWATCH_GOLDEN"):
        file.write_text(shown, encoding="utf-8")
    assert shown == file.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["entry-mistake", "preparation", "by-hand", "after", "history"])
async def test_nothing_is_said_by_colour_alone(name):
    async with Pictured(name) as dark, Pictured(name, theme="mono") as mono:
        assert dark.text == mono.text


@pytest.mark.parametrize("name", PICTURES)
async def test_the_window_may_be_small(name):
    async with Pictured(name) as pictured:
        for size in ((40, 12), (20, 6), (200, 60), (80, 24)):
            await pictured.pilot.resize_terminal(*size)
            await pictured.settle()
            assert pictured.app.is_running
