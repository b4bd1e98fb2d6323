"""The checklist: limits with sources, cautions, values, what is skipped, the drag test."""

import pytest

from logger.daemon.checklist import checklist_of
from logger.domain.checklist import CHECKLIST, CheckCode
from logger.domain.record import Stamp, Statement
from logger.errors import InputError
from logger.wire.desk import AmbientAnswer, Said
from logger.wire.live import Accepted, DragOfferMessage
from tests.unit.tui.fake_link import UUID, plan
from tests.unit.tui.test_live import NEAR, Watched, message_at

OFFER = DragOfferMessage(
    pressure_bar=8.06, spread_bar=0.2, breakaway_bar=9.1, at_s=24.0, is_closing_seen=False
)
ITEMS = [check.item for check in checklist_of(UUID, plan(), ()).checks]


class Preparing(Watched):
    """The checklist of the open joint; what was said of it is `said`."""

    def __init__(self, *said, **options):
        super().__init__(60.0, **options)
        self.link.answers |= {
            "/v1/checklist": checklist_of(UUID, plan(), said),
            "/v1/joint/preparation": Said(joint_uuid=UUID, seq=1),
            "/v1/joint/drag": Accepted(joint_uuid=UUID, attempt=1),
        }

    async def __aenter__(self):
        await super().__aenter__()
        await self.press("f2")
        return self

    async def go_to(self, item):
        for _ in range(ITEMS.index(item)):
            await self.pilot.press("down")
        await self.settle()

    async def type(self, text):
        await self.pilot.press(*text)
        await self.settle()


async def test_every_item_has_its_limit_source_and_mark():
    async with Preparing(size=(120, 40)) as preparing:
        for item in ITEMS:
            assert preparing.app.screen.check.item is item
            assert "Source: " in preparing.text
            await preparing.pilot.press("down")
            await preparing.settle()
        assert "Gap between the closed faces after facing: at most 0.5 mm." in preparing.text


async def test_cautions_stand_where_the_hand_goes_near():
    hot = {check.code for check in CHECKLIST if "caution.hot_plate" in check.cautions}
    async with Preparing() as preparing:
        for item in ITEMS:
            assert ("▲ The plate is over 200 degC" in preparing.text) == (item in hot)
            await preparing.pilot.press("down")
            await preparing.settle()


async def test_an_item_without_a_value_takes_one_key():
    async with Preparing() as preparing:
        await preparing.press("d")
        ((path, command),) = preparing.link.posted
        assert (path, command.item, command.answer) == ("/v1/joint/preparation", CheckCode.SHELTER, "done")


@pytest.mark.parametrize("item", [CheckCode.GAP, CheckCode.MISALIGNMENT, CheckCode.DRAG_MEASURED])
async def test_what_is_measured_is_not_done_without_its_value(item):
    async with Preparing() as preparing:
        await preparing.go_to(item)
        await preparing.press("d", "f8")
        assert "! is needed" in preparing.text
        assert preparing.link.posted == []
        await preparing.press("escape")
        assert preparing.link.posted == []


async def test_a_bare_figure_gets_the_unit_asked_for():
    async with Preparing() as preparing:
        await preparing.go_to(CheckCode.GAP)
        await preparing.press("d")
        await preparing.type("0,3")
        await preparing.press("f8")
        ((_, command),) = preparing.link.posted
        assert (command.value, command.answer) == ("0.3 mm", "done")


async def test_a_value_that_is_refused_stays_with_its_reason():
    async with Preparing() as preparing:
        preparing.link.answers["/v1/joint/preparation"] = InputError("no unit 'qq'", key="value")
        await preparing.go_to(CheckCode.GAP)
        await preparing.press("d")
        await preparing.type("3 qq")
        await preparing.press("enter")
        assert "NOT DONE: value: no unit 'qq'" in preparing.text


async def test_what_is_skipped_needs_a_reason_and_is_said_so():
    async with Preparing() as preparing:
        await preparing.press("s", "enter")
        assert preparing.link.posted == []
        await preparing.type("in a hall")
        await preparing.press("enter")
        ((_, command),) = preparing.link.posted
        assert (command.answer, command.reason) == ("skipped", "in a hall")
    said = Statement(
        kind="preparation", author="J. Tarrow", at=Stamp(mono_ms=0, utc="2026-11-25T08:00:00Z"),
        body={"item": "shelter", "answer": "skipped"}, reason="in a hall",
    )  # fmt: skip
    async with Preparing(said) as preparing:
        assert "0 of 18 done, 1 skipped" in preparing.text
        assert "SKIPPED: J. Tarrow, in a hall" in preparing.text


async def test_the_drag_of_the_trace_is_confirmed_not_taken_by_itself():
    async with Preparing(drag_offer=OFFER) as preparing:
        await preparing.go_to(CheckCode.DRAG_MEASURED)
        assert "Drag read off the stroke 36 s ago: 8.1 bar, spread 0.2. Breakaway 9.1 bar." in preparing.text
        await preparing.press("o", "n")
        assert preparing.link.posted == []
        await preparing.press("o", "y")
        (drag, done) = preparing.link.posted
        assert (drag[0], drag[1].pressure, drag[1].is_offered) == ("/v1/joint/drag", "8.06 bar", True)
        assert (done[1].item, done[1].value) == (CheckCode.DRAG_MEASURED, "8.06 bar")


async def test_a_typed_drag_is_in_the_unit_of_the_gauge_and_never_filled_in():
    async with Preparing(drag_offer=OFFER) as preparing:
        await preparing.press("u")
        await preparing.go_to(CheckCode.DRAG_MEASURED)
        await preparing.press("d", "f8")
        assert preparing.link.posted == []
        await preparing.type("0.81")
        await preparing.press("f8")
        assert preparing.link.posted[0][1].pressure == "0.81 MPa"
        assert not preparing.link.posted[0][1].is_offered


async def test_ambient_is_taken_with_its_instrument():
    async with Preparing() as preparing:
        preparing.link.answers["/v1/joint/ambient"] = AmbientAnswer(
            joint_uuid=UUID, seq=2, planned_cooling_s=374.0, read_cooling_s=400.0, governing_cooling_s=400.0
        )
        await preparing.press("a")
        await preparing.type("18")
        await preparing.press("f8")
        assert preparing.link.posted == []
        await preparing.press("down")
        await preparing.type("T-4")
        await preparing.press("f8")
        ((_, command),) = preparing.link.posted
        assert (command.temperature, command.instrument) == ("18 degC", "T-4")
        assert "Cooling time that governs: 6 min 40 s" in preparing.text


async def test_near_the_changeover_the_question_and_the_list_are_gone():
    async with Preparing() as preparing:
        await preparing.go_to(CheckCode.GAP)
        await preparing.press("d")
        await preparing.tell(message_at(NEAR))
        await preparing.settle()
        assert "HANDS CLEAR" in preparing.text
        assert "measured" not in preparing.text


async def test_without_a_joint_it_says_where_to_begin():
    async with Preparing() as preparing:
        preparing.link.answers["/v1/checklist"] = checklist_of(None, None, ())
        await preparing.app.screen._ask()
        await preparing.settle()
        assert "no joint is open. F1 opens one" in preparing.text
        await preparing.press("d", "s", "a", "o")
        assert preparing.link.posted == []
