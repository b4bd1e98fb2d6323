"""The entry of a joint: what is offered, what is never carried over, mistakes at their fields, keys alone."""

import pytest

from logger.errors import DeviceError
from logger.wire.live import Accepted
from tests.catalogue import LANGUAGES
from tests.unit.tui.desk_answers import CHOICES, not_understood, planned
from tests.unit.tui.fake_link import UUID, snapshot, state
from tests.unit.tui.stored_answers import listed, summary
from tests.unit.tui.test_live import Watched
from tui import catalogue
from tui.entry_fields import OF_ONE_JOINT, fields
from tui.widgets.form import Form

NO_JOINT = {"joint": None, "joint_uuid": None}
NAME_WIDTH = 23
"""What the mark of the present row and that of a needed field leave of a name's place."""


class Entry(Watched):
    """The entry as it opens."""

    def __init__(self, **options):
        super().__init__(60.0, **options)
        self.link._queue.get_nowait()
        self.link.tell(snapshot(state(**NO_JOINT), planned=False))
        self.link.answers |= {
            "/v1/choices": CHOICES,
            "/v1/plan": planned(missing=("joint",)),
            "/v1/joint/start": Accepted(joint_uuid=UUID, attempt=1),
        }

    async def __aenter__(self):
        await super().__aenter__()
        await self.press("f1")
        await self.planned(1)
        return self

    async def planned(self, count):
        """Until the plan was asked for so often."""
        while sum(path == "/v1/plan" for path, _ in self.link.posted) < count:
            await self.pilot.pause(0.02)
        await self.settle()

    async def type(self, text):
        count = sum(path == "/v1/plan" for path, _ in self.link.posted)
        await self.pilot.press(*text)
        await self.planned(count + 1)

    @property
    def form(self):
        return self.app.screen.query_one(Form)

    def sent(self, path):
        return [body for sent, body in self.link.posted if sent == path]


async def test_the_last_joint_is_offered_but_nothing_measured_of_it():
    async with Entry() as entry:
        answers = entry.form.answers
        assert answers["pipe.material"] == "PE100"
        assert answers["operator"] == "J. Tarrow"
        assert {key: answers[key] for key in OF_ONE_JOINT} == dict.fromkeys(OF_ONE_JOINT, "")
        assert "Still needed: joint number" in entry.text
        assert "F8" not in entry.text


async def test_even_a_recorder_that_offers_measured_values_is_not_followed():
    async with Entry() as entry:
        pipe = CHOICES.last.pipe.model_copy(update={"code": "LOT 7", "out_of_round": "0.4 mm"})
        last = CHOICES.last.model_copy(update={"pipe": pipe})
        entry.link.answers["/v1/choices"] = CHOICES.model_copy(update={"last": last})
        entry.app.screen._is_offered = False
        await entry.app.screen._ask_choices()
        await entry.settle()
        assert "LOT 7" not in entry.text
        assert entry.form.answers["pipe.out_of_round"] == ""


async def test_a_joint_is_opened_with_keys_alone():
    async with Entry() as entry:
        entry.link.answers["/v1/plan"] = planned()
        await entry.type("K-118")
        assert "All there. F8 opens the joint" in entry.text
        assert "heat soak: at least 58 s" in entry.text
        entry.link.answers["/v1/checklist"] = DeviceError("no joint is open")
        await entry.press("f8")
        (command,) = entry.sent("/v1/joint/start")
        assert (command.entry.joint, command.entry.operator) == ("K-118", "J. Tarrow")
        assert command.entry.pipe.outside_diameter == "63 mm"
        assert command.entry.pipe_b is None


async def test_a_mistake_is_explained_below_its_field():
    async with Entry() as entry:
        entry.link.answers["/v1/plan"] = not_understood("pipe.sdr", "'x' is no number", "11", "17")
        await entry.type("K")
        rows = entry.form.rows
        assert rows["pipe.sdr"].fault.paragraphs == ("! 'x' is no number; nearest: 11, 17",)
        assert not any(row.fault.paragraphs for key, row in rows.items() if key != "pipe.sdr")
        await entry.press("f8")
        assert entry.sent("/v1/joint/start") == []


async def test_a_repeated_number_says_what_it_becomes():
    async with Entry() as entry:
        entry.link.answers["/v1/plan"] = planned(attempt=2)
        await entry.type("K-117")
        assert "it becomes attempt 2, linked to the one before" in entry.text


async def test_a_value_is_taken_from_its_list():
    async with Entry() as entry:
        await entry.press("down", "f7")
        assert "R. Okafor" in entry.text
        await entry.press("down", "enter")
        assert entry.form.answers["operator"] == "R. Okafor"


async def test_ends_that_differ_are_entered_apart():
    async with Entry() as entry:
        await entry.press("f10")
        await entry.planned(2)
        last = entry.sent("/v1/plan")[-1]
        assert last.pipe_b.material == "PE100"
        assert last.pipe_b.code == ""
        await entry.press("f10")
        await entry.planned(3)
        assert entry.sent("/v1/plan")[-1].pipe_b is None


async def test_a_refused_joint_stays_as_typed():
    async with Entry() as entry:
        entry.link.answers["/v1/plan"] = planned()
        entry.link.answers["/v1/joint/start"] = DeviceError("joint K-117 is open")
        await entry.type("K-118")
        await entry.press("f8")
        assert "NOT DONE: joint K-117 is open" in entry.text
        assert entry.form.answers["joint"] == "K-118"


async def test_no_second_joint_while_one_is_open():
    async with Entry() as entry:
        entry.link.answers["/v1/plan"] = planned()
        await entry.tell(snapshot(state()))
        await entry.type("K-118")
        assert "A joint is open" in entry.text
        await entry.press("f8")
        assert entry.sent("/v1/joint/start") == []


@pytest.mark.parametrize("size", [(80, 24), (40, 12)])
async def test_every_field_is_reached_by_the_arrow(size):
    async with Entry(size=size) as entry:
        seen = set()
        for _ in fields():
            seen.add(entry.form.here.field.key)
            await entry.pilot.press("down")
            await entry.settle()
            assert "▶" in entry.text
        assert seen == {field.key for field in fields() if not field.key.startswith("pipe_b.")}


@pytest.mark.parametrize("language", ["en", *LANGUAGES])
def test_names_of_fields_fit_their_place(language):
    catalogue.use(language)
    try:
        assert [f.name for f in fields() if len(f.name) > NAME_WIDTH] == []
    finally:
        catalogue.use("en")


async def test_a_joint_without_a_name_that_waits_is_named_from_here():
    unnamed = summary(UUID, "", "undecided").model_copy(update={"number": None})
    async with Entry() as entry:
        assert "F12" not in entry.text
        entry.link.answers |= {
            "/v1/joints?limit=50": listed(summary(), unnamed),
            "/v1/joint/claim": Accepted(joint_uuid=UUID, attempt=1),
        }
        await entry.press("f4", "f1")
        text = 'Joint without a name, 2026-11-25 08:00 UTC, curve undecided: F12, then "name a joint".'
        assert text in " ".join(entry.text.split())
        await entry.press("f12")
        place = [choice.text for choice in entry.app.screen._choices].index("name a joint")
        await entry.press(*["down"] * place, "enter")
        await entry.pilot.press(*"A-7", "down", "down", *"R. Okafor", "down", *"late")
        entry.link.answers["/v1/joints?limit=50"] = listed(summary())
        await entry.press("f8")
        assert [command.number for command in entry.sent("/v1/joint/claim")] == ["A-7"]
        assert "F12" not in entry.text
