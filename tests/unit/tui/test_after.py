"""After the joint: the verdict in words, what must not be done yet, the look, the sign-off."""

from dataclasses import replace

from logger.domain.band import Band
from logger.domain.joint_plan import CoolingEnd
from logger.domain.judgement import Verdict
from logger.domain.procedure import CoolingEndKind
from logger.errors import InputError
from logger.wire.desk import Said
from logger.wire.live import Accepted
from tests.unit.tui.fake_link import UUID, plan, snapshot, state
from tests.unit.tui.stored_answers import SECOND_UUID, answers, listed, said, summary
from tests.unit.tui.test_live import AFTER, Watched
from tui.plan_words import do_not_lines, duration_text, limits_text
from tui.widgets.form import Form

LIST = "/v1/joints?limit=50"
OPEN = summary(SECOND_UUID, "K-118", None).model_copy(update={"ended": None})
UNNAMED = summary(SECOND_UUID, "", "undecided").model_copy(update={"number": None})


class Afterwards(Watched):
    """The screen after a joint that has ended."""

    def __init__(self, *statements, verdict=Verdict.CONFORMING, **options):
        super().__init__(AFTER, **options)
        self.link._queue.get_nowait()
        ended = {"joint": None, "joint_uuid": None, "last_joint": "K-117", "last_joint_uuid": UUID}
        self.link.tell(snapshot(state(**ended, last_verdict=verdict.value), planned=False))
        self.link.answers |= {**answers(*statements, verdict=verdict), LIST: listed(summary())}
        for route in ("visual", "remark", "sign-off"):
            self.link.answers[f"/v1/joints/{UUID}/{route}"] = Said(joint_uuid=UUID, seq=1)

    async def __aenter__(self):
        await super().__aenter__()
        await self.press("f5")
        return self

    async def type(self, text):
        await self.pilot.press(*text)
        await self.settle()

    def sent(self, route):
        return [body for path, body in self.link.posted if path.endswith(route)]


async def test_verdict_findings_and_the_three_lines_in_words():
    async with Afterwards(verdict=Verdict.NONCONFORMING, size=(120, 40)) as after:
        assert "Joint K-117: curve NOT conforming" in after.text
        assert "FAULT  Changeover took too long: 7.4 s, limit 5.5 s" in after.text
        for words in ("Curve", "Preparation  not done", "Visual       not done", "it does not certify"):
            assert words in after.text


async def test_what_must_not_be_done_yet_stands_above():
    async with Afterwards() as after:
        assert "DO NOT LIFT OR PULL before: " in after.text
        assert "DO NOT PRESSURE-TEST before: " in after.text
        assert "No water, no air to hasten cooling" in after.text
    ends = (
        CoolingEnd(kind=CoolingEndKind.OUT_OF_CLAMPS, duration_s=Band(min=600.2)),
        CoolingEnd(kind=CoolingEndKind.PRESSURE_TEST, duration_s=Band()),
    )
    lift, test = do_not_lines(replace(plan(), cooling_ends=ends))
    assert lift == "DO NOT LIFT OR PULL before: at least 10 min 1 s after the release"
    assert test.endswith("this procedure gives none")


def test_a_limit_is_rounded_to_its_safe_side():
    assert duration_text(Band(min=57.3, max=57.39)) == "58 s to 57.3 s"
    assert limits_text(Band(min=0.14, max=0.66), "mm", 1) == "0.2 to 0.6 mm"
    assert limits_text(Band(max=0.6), "mm", 1) == "at most 0.6 mm"


async def test_the_look_is_recorded_with_every_answer():
    async with Afterwards() as after:
        await after.press("v", "f8")
        assert after.text.count("! is needed") == 6
        for answer in ("9", "10"):
            await after.type(answer)
            await after.pilot.press("down")
        await after.pilot.press("right", "down", *"0.3", "down", *"even", "down", "right")
        await after.settle()
        await after.press("f8")
        (command,) = after.sent("/visual")
        assert (command.bead_width_least, command.bead_width_greatest) == ("9 mm", "10 mm")
        assert (command.notch, command.misalignment) == ("not_to_the_surface", "0.3 mm")
        assert (command.look, command.is_accepted, command.by) == ("even", True, "J. Tarrow")
        assert "Examination recorded." in after.text


async def test_a_choice_takes_no_letters():
    async with Afterwards() as after:
        await after.press("s", "right")
        await after.type("abc")
        form = after.app.screen.query_one(Form)
        assert form.rows["is_number_marked"].input.value == "yes"
        await after.type(["backspace"])
        assert form.answers["is_number_marked"] == "yes"


async def test_a_conforming_joint_is_signed_off():
    async with Afterwards() as after:
        await after.press("s")
        await after.pilot.press("right", "down", "right")
        await after.press("f8")
        (command,) = after.sent("/sign-off")
        assert (command.is_number_marked, command.closed_as) == (True, "made")


async def test_a_nonconforming_joint_is_cut_out_or_conceded():
    async with Afterwards(verdict=Verdict.NONCONFORMING) as after:
        await after.press("s")
        await after.pilot.press("right", "down", "f7")
        await after.settle()
        assert "cut out" in after.text
        assert "concession" in after.text
        assert not any(line.strip("┃ ") == "made" for line in after.text.splitlines())
        await after.press("enter", "f8")
        assert [command.closed_as for command in after.sent("/sign-off")] == ["cut_out"]


async def test_what_the_recorder_refuses_stands_in_the_question():
    async with Afterwards() as after:
        after.link.answers[f"/v1/joints/{UUID}/sign-off"] = InputError("has to stand on the pipe")
        await after.press("s")
        await after.pilot.press("right", "right", "down", "right")
        await after.press("f8")
        assert "NOT DONE: has to stand on the pipe" in after.text


async def test_a_signed_joint_is_not_signed_again():
    async with Afterwards(said("sign_off", closed_as="concession", concession_by="A. Lund")) as after:
        assert "Signed off by S. Brandt: concession A. Lund" in after.text
        assert "sign off" not in after.text
        await after.press("s")
        assert after.sent("/sign-off") == []


async def test_a_remark_is_kept():
    async with Afterwards() as after:
        await after.press("r")
        await after.type("rain began")
        await after.press("enter")
        assert [command.text for command in after.sent("/remark")] == ["rain began"]


async def test_after_a_restart_the_last_joint_is_found_in_the_record():
    async with Afterwards() as after:
        after.link.answers[LIST] = listed(OPEN, summary())
        await after.tell(snapshot(state(joint=None, joint_uuid=None), planned=False))
        await after.settle()
        assert "Joint K-117: curve conforming" in after.text


def with_unnamed(after):
    detail = after.link.answers[f"/v1/joints/{UUID}"].model_copy(update={"summary": UNNAMED})
    after.link.answers |= {
        LIST: listed(OPEN, summary(), UNNAMED),
        f"/v1/joints/{SECOND_UUID}": detail,
        f"/v1/joints/{SECOND_UUID}/judgement": after.link.answers[f"/v1/joints/{UUID}/judgement"],
        "/v1/joint/claim": Accepted(joint_uuid=SECOND_UUID, attempt=2),
    }


async def test_joints_before_the_last_are_gone_to_with_a_key_and_closed():
    async with Afterwards() as after:
        with_unnamed(after)
        await after.press("f4", "f5")
        assert "[L]" not in after.keys
        await after.press("e")
        assert "Joint without a name, 2026-11-25 08:00 UTC, curve undecided" in after.text
        assert "[C]" not in after.keys
        assert "[E]" not in after.keys
        await after.press("l")
        assert "Joint K-117" in after.text


async def test_a_joint_without_a_name_is_named():
    async with Afterwards() as after:
        with_unnamed(after)
        await after.press("f4", "f5", "e", "g")
        await after.type([*"K-119", "down", "down", *"R. Okafor", "down", *"forgot"])
        await after.press("f8")
        (command,) = after.sent("/claim")
        assert (command.joint_uuid, command.number, command.claimed_by) == (SECOND_UUID, "K-119", "R. Okafor")
        assert (command.project, command.reason) == ("", "forgot")
        assert "Named; it is attempt 2 of this number." in after.text


async def test_the_joint_that_has_just_ended_comes_to_the_front():
    async with Afterwards() as after:
        with_unnamed(after)
        await after.press("f4", "f5", "e")
        ended = {"joint": None, "joint_uuid": None, "last_joint": "K-120", "last_joint_uuid": UUID}
        await after.tell(snapshot(state(**ended | {"last_joint_uuid": SECOND_UUID}), planned=False))
        await after.tell(snapshot(state(**ended), planned=False))
        await after.settle()
        assert "Joint K-117" in after.text
