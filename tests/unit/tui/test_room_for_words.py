"""No text of any screen is cut in any language, on the small window and on the smallest; keys that find no
room are in the list of all keys."""

import pytest

from logger.daemon.checklist import checklist_of
from logger.domain.judgement import Verdict
from tests.catalogue import LANGUAGES
from tests.unit.tui.desk_answers import CHOICES, planned
from tests.unit.tui.fake_link import UUID, plan, snapshot, state
from tests.unit.tui.screens import message_at
from tests.unit.tui.stored_answers import answers, listed, summary
from tests.unit.tui.test_live import COOL, MOMENTS, Watched
from tui import catalogue
from tui.app import MonitorApp
from tui.screens.base import KeyOffer, key_row
from tui.widgets.lines import UNBROKEN, Lines, wrapped

SIZES = ((80, 24), (40, 12))
ROOMS_AT = {60.0: ("f2", "f4"), COOL: ("f3", "f4")}
"""Screens around the live one that are looked at while the joint is open."""
UNNAMED = summary(UUID, "", "undecided").model_copy(update={"number": None})
ANSWERS = {
    **answers(verdict=Verdict.NONCONFORMING), "/v1/choices": CHOICES, "/v1/plan": planned(attempt=2),
    "/v1/checklist": checklist_of(UUID, plan(), ()), "/v1/joints?limit=50": listed(summary(), UNNAMED),
    "/v1/joints?limit=50&offset=0": listed(summary()),
}  # fmt: skip


@pytest.fixture(autouse=True)
def english():
    yield
    catalogue.use("en")


def cut(app: MonitorApp) -> list[str]:
    """The lines that have less room than they need; a list shows the part around its present row."""
    lines = app.screen.query(Lines).exclude("#list")
    shown = (line for line in lines if line.display and line.region)
    return [str(line.id) for line in shown if len(line.laid_out(line.size)) > line.size.height]


@pytest.mark.parametrize("language", ["en", *LANGUAGES])
async def test_no_text_is_cut(language):
    catalogue.use(language)
    wrong = []

    async def look(watched, place):
        for size in SIZES:
            await watched.pilot.resize_terminal(*size)
            await watched.settle()
            wrong.extend((place, size, name) for name in cut(watched.app))

    async with Watched(0.0) as watched:
        watched.link.answers = ANSWERS
        for name, at_s in MOMENTS.items():
            await watched.tell(message_at(at_s))
            await look(watched, name)
            for key in ROOMS_AT.get(at_s, ()):
                await watched.press(key)
                await look(watched, key)
        ended = {"joint": None, "joint_uuid": None, "last_joint": "K-117", "last_joint_uuid": UUID}
        await watched.tell(snapshot(state(**ended, last_verdict="nonconforming"), planned=False))
        for key in ("f1", "f5", "f6"):
            await watched.press(key)
            await look(watched, key)
    assert wrong == [], "\n".join(map(str, wrong))


async def test_every_key_is_in_the_list_and_does_there_what_it_does():
    async with Watched(60.0, size=(40, 12)) as watched:
        assert "[F12] all keys" in watched.keys
        assert "[F6]" not in watched.keys
        await watched.press("f12")
        texts = [choice.text.replace(UNBROKEN, " ") for choice in watched.app.screen._choices]
        assert [text.partition("]")[0] for text in texts] == [
            "[X", "[Z", "[F1", "[F2", "[F3", "[F5", "[F6", "[Q", "[U", "[T", "[F9",
        ]  # fmt: skip
        await watched.press(*["down"] * texts.index("[U] unit"), "enter")
        assert "MPa" in watched.text
        await watched.press("f12", "enter")
        assert "Break this joint off for good?" in " ".join(watched.text.split())


async def test_no_list_of_keys_while_no_key_acts():
    async with Watched(MOMENTS["changeover"]) as watched:
        await watched.press("f12")
        assert len(watched.app.screen_stack) == 2


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("rows", [1, 2])
def test_a_row_of_keys_is_whole_or_says_where_the_rest_is(width, rows):
    offers = [KeyOffer(key=f"f{n}", name=f"name {n}", action="bell") for n in range(12)]
    for count in range(len(offers) + 1):
        row = key_row(offers[:count], width, rows)
        assert len(wrapped(row, width)) <= rows
        assert ("all" in row) == (row.count("name") < count)
