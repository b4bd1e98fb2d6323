"""Marks by hand: never near the changeover, beside what was detected, with whose and how sure."""

import pytest

from logger.wire.desk import Said
from tests.unit.tui.fake_link import UUID, snapshot, state
from tests.unit.tui.stored_answers import answers, said
from tests.unit.tui.test_live import AFTER, BEAD_UP, COOL, SOAK, SOAKED, Watched, message_at
from tui.marks import BOUNDARIES, boundary_rows

MARK = said("mark", boundary="changeover", at_s=196.4, u_s=0.3, how="curve")


class ByHand(Watched):
    """The screen at a moment of the clean joint, or after it."""

    def __init__(self, *statements, at_s=COOL, has_ended=False, **options):
        super().__init__(at_s, **options)
        if has_ended:
            self.link._queue.get_nowait()
            ended = {"joint": None, "joint_uuid": None, "last_joint": "K-117", "last_joint_uuid": UUID}
            self.link.tell(snapshot(state(**ended), planned=False))
        self.link.answers |= answers(*statements)
        self.link.answers["/v1/joint/mark"] = Said(joint_uuid=UUID, seq=1)
        self.link.answers["/v1/joint/plate-reading"] = Said(joint_uuid=UUID, seq=2)

    async def __aenter__(self):
        await super().__aenter__()
        await self.press("f3")
        return self

    async def type(self, *keys):
        await self.pilot.press(*keys)
        await self.settle()


async def test_detected_and_marked_stand_side_by_side():
    async with ByHand(MARK, size=(120, 40)) as hand:
        line = "detected 196.0 s; marked by hand 196.4 s, u = 0.3 s, on the curve, S. Brandt"
        assert "start of changeover: " in hand.text
        assert line in hand.text
        assert "end of cooling: not detected" in hand.text
        assert "a mark alone never makes a joint conforming" in hand.text


async def test_a_mark_is_set_at_the_cursor_on_the_curve():
    async with ByHand() as hand:
        for _ in range(4):
            await hand.pilot.press("pageup")
        await hand.settle()
        at_s = hand.app.screen._at_s
        assert 0 < at_s < COOL
        assert f"{at_s:.1f} s" in hand.text
        await hand.press("m")
        await hand.type("right", "right", "right", "down", *"0,5")
        await hand.press("f8")
        ((_, mark),) = hand.link.posted
        assert (mark.boundary, mark.at_s, mark.u_s, mark.how) == ("changeover", at_s, 0.5, "curve")
        assert (mark.by, mark.joint_uuid) == ("J. Tarrow", UUID)
        assert "Mark recorded beside what was detected." in hand.text


async def test_a_stop_watch_counts_from_a_boundary():
    async with ByHand(has_ended=True) as hand:
        await hand.press("w")
        await hand.type(*["right"] * 4, "down", *["right"] * 4, "down", *"4.1")
        await hand.press("f8")
        ((_, mark),) = hand.link.posted
        assert (mark.boundary, mark.how, mark.u_s) == ("pressure_build_up", "stop_watch", 0.3)
        assert mark.at_s == pytest.approx(196.0 + 4.1)


async def test_what_is_no_figure_is_said():
    async with ByHand(has_ended=True) as hand:
        await hand.press("w")
        await hand.type("right", "down", "right", "down", *"soon")
        await hand.press("f8")
        assert "NOT DONE: a figure is wanted" in hand.text
        assert hand.link.posted == []


@pytest.mark.parametrize("at_s", [BEAD_UP, SOAK])
async def test_no_mark_is_offered_while_the_ends_are_at_the_plate(at_s):
    async with ByHand(at_s=at_s) as hand:
        assert "Marks come after the changeover" in hand.text
        for key in ("m", "w", "p"):
            assert f"[{key.upper()}]" not in hand.keys
            await hand.press(key)
        assert hand.link.posted == []
        assert len(hand.app.screen_stack) == 2


async def test_from_the_end_of_the_soak_the_live_screen_is_shown():
    async with ByHand() as hand:
        await hand.press("m")
        await hand.tell(message_at(SOAKED))
        assert "No key is needed now" in hand.text
        assert "BY HAND" not in hand.text


async def test_the_plate_is_read_by_hand_with_instrument_and_time():
    async with ByHand(at_s=60.0) as hand:
        await hand.press("p")
        assert "▲ The plate is over 200 degC" in hand.text
        await hand.press("f8")
        assert hand.link.posted == []
        await hand.type(*"218", "down", *"probe 7", "down", *"1,5", "down", "left", "left", "down", *"40")
        await hand.press("f8")
        ((_, reading),) = hand.link.posted
        assert (reading.temperature, reading.instrument) == ("218 degC", "probe 7")
        assert reading.uncertainty == "1.5 degC"
        assert (reading.face, reading.taken_s_ago) == ("both", 40.0)


async def test_an_ended_joint_takes_marks_but_no_plate_reading():
    async with ByHand(has_ended=True, at_s=AFTER) as hand:
        assert "[M] mark here" in hand.keys
        assert "[P]" not in hand.keys
        assert "end of cooling: detected 585.6 s" in hand.text


async def test_the_curve_is_seen_closer_around_the_cursor():
    async with ByHand(has_ended=True) as hand:
        await hand.press("z", "z", "z")
        before = hand.app.screen._cursor_s(hand.app.screen._curve())
        await hand.press("left")
        assert 0 < before - hand.app.screen._at_s < 0.2


def test_every_boundary_has_its_row_whatever_was_detected():
    rows = boundary_rows([], [MARK])
    assert tuple(row.key for row in rows) == BOUNDARIES
    assert [row.known_s for row in rows] == [None, None, 196.4, None, None, None]
