"""Heat-through and the surface's age on the screens, in every language, with nothing cut."""

import pytest

from logger.daemon.checklist import checklist_of
from logger.domain.checklist import CheckCode
from logger.domain.source import Mark
from logger.wire.live import FaceMessage, HandSurfaceMessage, HeatThroughMessage, SurfaceMessage
from tests.catalogue import LANGUAGES
from tests.unit.tui.fake_link import UUID, plan
from tests.unit.tui.test_live import Watched, message_at
from tests.unit.tui.test_preparation import ITEMS
from tests.unit.tui.test_room_for_words import SIZES, cut
from tui import catalogue
from tui.widgets.lines import Lines

DVS = "DVS 2207, work begins 10 min after the heated tool reached its temperature"
KINDS = {
    "counting": 200.4, "through": 900.0, "warming": 0.0, "not_observed": 77.0, "no_reading": None,
}  # fmt: skip
SURFACE = SurfaceMessage(
    instrument="contact thermometer 4711", measured_on="2026-05-01", age_days=211, due="2026-10-31",
    due_source="both faces read again every half year", due_mark=Mark.PRACTICE, is_overdue=True,
    faces=(
        FaceMessage(face="a", offset_K=-2.4, spread_K=3.0), FaceMessage(face="b", offset_K=1.0, spread_K=0.5),
    ),
)  # fmt: skip
BY_HAND = HandSurfaceMessage(
    face="both", instrument="T-9", temperature_degC=217.5, age_s=250.0, offset_K=-2.0
)
BEFORE = BY_HAND.model_copy(update={"is_before_joint": True, "age_s": 3400.0})


@pytest.fixture(autouse=True)
def english():
    yield
    catalogue.use("en")


def heat(kind: str, gone_s: float | None = None) -> HeatThroughMessage:
    return HeatThroughMessage(heat=kind, gone_s=gone_s, needed_s=600.0, source=DVS, mark=Mark.MEMORY)


def squeezed_out(app) -> list[str]:
    """Of the lines told of here those that have a text and no row at all."""
    lines = [line for line in app.screen.query(Lines) if line.id in ("heat", "surface")]
    return [str(line.id) for line in lines if line.paragraphs and not line.region] + (
        [f"below the window {app.screen.max_scroll_y}"] if app.screen.max_scroll_y else []
    )


async def test_the_time_is_counted_on_live_and_in_the_preparation_and_gone_at_contact():
    line = "Heat-through 3:20 of 10:00, DVS 2207, from memory"
    async with Watched(60.0, heat_through=heat("counting", 200.4)) as watched:
        watched.link.answers["/v1/checklist"] = checklist_of(UUID, plan(), ())
        assert line in watched.text
        await watched.press("f2")
        assert line in watched.text
        await watched.press("f4")
        await watched.tell(message_at(60.0, heat_through=heat("not_observed", None)))
        assert "Heat-through: not observed since switch-on; 10:00, DVS 2207" in watched.text
        await watched.tell(message_at(125.0))
        assert "eat-through" not in watched.text


async def test_what_the_recorder_said_long_ago_is_not_counted_on():
    async with Watched(60.0, heat_through=heat("counting", 200.4)) as watched:
        watched.clock.now_s += 60.0
        await watched.settle()
        watched.app.look()
        await watched.settle()
        assert "NO LINK" in watched.text
        assert "3:20 of" not in watched.text


async def test_the_surface_has_instrument_offset_spread_and_age():
    async with Watched(60.0, size=(120, 40), plate_surface=SURFACE, surface_by_hand=(BY_HAND,)) as watched:
        watched.link.answers["/v1/checklist"] = checklist_of(UUID, plan(), ())
        await watched.press("f2", *["down"] * ITEMS.index(CheckCode.HEATER_CHECKED))
        shown = " ".join(watched.text.split())
        assert "Surface read on 2026-05-01, 211 days before, contact thermometer 4711; face a -2.4 K" in shown
        assert "OVERDUE since 2026-10-31 (both faces read again every half year, common practice" in shown
        assert "Read by hand 4 min ago, both sides, T-9: 217.5 °C, -2.0 K to the built-in sensor" in shown
        await watched.tell(message_at(60.0, plate_surface=SURFACE, surface_by_hand=(BEFORE,)))
        shown = " ".join(watched.text.split())
        assert "T-9: 217.5 °C, -2.0 K to the built-in sensor (before this joint)" in shown
        await watched.tell(message_at(60.0))
        assert "Surface never held against the built-in sensor" in watched.text


@pytest.mark.parametrize("language", ["en", *LANGUAGES])
async def test_nothing_is_cut(language):
    catalogue.use(language)
    wrong = []
    async with Watched(60.0) as watched:
        watched.link.answers["/v1/checklist"] = checklist_of(UUID, plan(), ())
        to_heat = ITEMS.index(CheckCode.HEATED_THROUGH)
        for keys in (("f4",), ("f2", *["down"] * to_heat), ("down",)):
            await watched.press(*keys)
            for kind, gone_s in KINDS.items():
                told = {"heat_through": heat(kind, gone_s), "plate_surface": SURFACE}
                await watched.tell(message_at(60.0, surface_by_hand=(BEFORE,), **told))
                for size in SIZES:
                    await watched.pilot.resize_terminal(*size)
                    await watched.settle()
                    wrong.extend((keys[0], kind, size, name) for name in cut(watched.app))
                    wrong.extend((keys[0], kind, size, name) for name in squeezed_out(watched.app))
    assert wrong == [], language + "\n".join(map(str, wrong))
