"""Past joints: filters, a curve over its plan, two curves one over the other."""

import numpy as np

from logger.domain.judgement import Verdict
from tests.unit.tui.fake_link import UUID, snapshot, state
from tests.unit.tui.stored_answers import SECOND_UUID, answers, listed, summary
from tests.unit.tui.test_live import Watched
from tui.widgets.canvas import Canvas
from tui.widgets.stored_curve import moved, zero_s

LIST = "/v1/joints?limit=50&offset=0"
BOTH = listed(summary(), summary(SECOND_UUID, "K-118", "nonconforming"))


class LookingBack(Watched):
    """The list of two joints."""

    def __init__(self, **options):
        super().__init__(60.0, **options)
        self.link._queue.get_nowait()
        self.link.tell(snapshot(state(joint=None, joint_uuid=None), planned=False))
        second = answers(uuid=SECOND_UUID, verdict=Verdict.NONCONFORMING)
        self.link.answers |= {**answers(), **second, LIST: BOTH}

    async def __aenter__(self):
        await super().__aenter__()
        await self.press("f6")
        return self

    @property
    def canvas(self):
        return self.app.screen.query_one(Canvas)

    def cells(self):
        return int(np.count_nonzero(self.canvas._cells >> 16))


async def test_joints_stand_with_the_verdict_of_their_curve():
    async with LookingBack() as back:
        assert "HISTORY: 2 joints" in back.text
        assert "▶ K-117              conforming" in back.text
        assert "  K-118              NOT conforming" in back.text
        assert back.cells() == 0


async def test_a_curve_opens_over_its_plan():
    async with LookingBack() as back:
        await back.press("enter")
        assert "K-117: full line" in back.text
        kinds = set(np.unique(back.canvas._cells >> 16).tolist())
        assert kinds == {0, 1, 2}
        assert "0:00" in back.text


async def test_two_joints_lie_one_over_the_other_from_bead_up_on():
    async with LookingBack() as back:
        path = f"/v1/joints/{SECOND_UUID}/curve?points=4000"
        message = back.link.answers[path]
        halved = tuple(None if p is None else p / 2 for p in message.samples.pressure_bar)
        samples = message.samples.model_copy(update={"pressure_bar": halved})
        back.link.answers[path] = message.model_copy(update={"samples": samples})
        await back.press("enter")
        assert "lay over" not in back.text
        await back.press("down", "o")
        assert "dotted" in back.text
        assert back.canvas.over is not None
        assert back.canvas.over.value.max() * 2 == back.canvas._drawing[0].value.max()
        await back.press("enter")
        assert back.canvas.over is None


async def test_the_second_curve_is_moved_to_the_first_ones_bead_up():
    first = answers()
    async with LookingBack() as back:
        await back.press("enter")
        joint = back.app.screen.first
        later = moved(joint.pressure, 5.0)
        assert later.t_s[0] == joint.pressure.t_s[0] + 5.0
        assert len(later) == len(joint.pressure)
        assert zero_s(joint.phases) == 118.0
        assert joint.uuid == UUID
        assert first[f"/v1/joints/{UUID}"].summary.number == "K-117"


async def test_the_list_is_filtered_by_text_project_and_verdict():
    async with LookingBack() as back:
        path = "/v1/joints?text=K-1&verdict=nonconforming&limit=50&offset=0"
        back.link.answers[path] = listed(BOTH.joints[1])
        await back.press("f")
        await back.pilot.press(*"K-1", "down", "down", *["right"] * 3)
        await back.press("f8")
        assert "HISTORY: 1 joints with K-1, NOT conforming" in back.text
        assert "K-117 " not in back.text


async def test_more_joints_follow_on_request():
    async with LookingBack() as back:
        back.link.answers[LIST] = BOTH.model_copy(update={"is_more": True})
        back.link.answers["/v1/joints?limit=50&offset=2"] = listed(summary(number="K-9"))
        await back.app.screen._list()
        await back.settle()
        await back.press("m")
        assert "HISTORY: 3 joints" in back.text
        assert "[M] more" not in back.text


async def test_a_joint_that_cannot_be_read_is_said():
    async with LookingBack() as back:
        del back.link.answers[f"/v1/joints/{UUID}"]
        await back.press("enter")
        assert "NOT DONE: no recorder answers" in back.text


async def test_a_joint_of_the_list_is_looked_at_and_closed_on_its_screen():
    async with LookingBack() as back:
        back.link.answers["/v1/joints?limit=50"] = BOTH
        await back.press("down", "a")
        assert "curve NOT conforming" in back.text
        assert back.app.chosen_uuid == SECOND_UUID
        assert "[S] sign off" in back.keys
