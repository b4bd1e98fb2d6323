"""The link: holes in the samples are filled before what follows them; what cannot be used is refused."""

from pathlib import Path

import pytest

from logger.errors import DeviceError, InputError
from logger.wire.stream import SamplesMessage
from tests.unit.tui.fake_link import UUID, samples, snapshot, state, update
from tui.link import Lost, Place, RecorderLink

PAGE = 100


def run_of(first_seq, count):
    times = [k / 10 for k in range(first_seq, first_seq + count)]
    return samples(first_seq, times, [1.0] * count, [2.0] * count)


class PagingLink(RecorderLink):
    """A link whose recorder has so many samples, in pages; none where `stored` is 0."""

    def __init__(self, stored):
        super().__init__(Place(socket=Path("nowhere.sock")))
        self.stored = stored
        self.asked = []

    async def get(self, model, path):
        self.asked.append(path)
        since = int(path.rpartition("=")[2])
        if since >= self.stored:
            raise DeviceError("the recorder's answer is not understood")
        return run_of(since + 1, min(PAGE, self.stored - since))


async def heard(link, *messages):
    return [arrival for message in messages async for arrival in link._healed(message)]


def numbers(arrivals):
    runs = [a if isinstance(a, SamplesMessage) else a.samples for a in arrivals]
    return [run.first_seq + k for run in runs if run for k in range(len(run.t_s))]


async def test_samples_in_a_row_ask_for_nothing():
    link = PagingLink(1000)
    arrivals = await heard(link, snapshot(state(), run_of(1, 10)), update(state(), run_of(11, 5)))
    assert numbers(arrivals) == list(range(1, 16))
    assert link.asked == []


async def test_a_hole_is_filled_first_page_by_page():
    link = PagingLink(1000)
    arrivals = await heard(link, snapshot(state(), run_of(1, 10)), update(state(), run_of(251, 5)))
    assert len(link.asked) == 3
    filled = numbers(arrivals)
    assert sorted(set(filled)) == list(range(1, 311))
    assert filled.index(250) < len(filled) - 5


async def test_a_viewer_that_comes_late_to_a_long_joint_asks_for_its_beginning():
    link = PagingLink(500)
    arrivals = await heard(link, snapshot(state(), run_of(301, 200)))
    assert set(numbers(arrivals)) >= set(range(1, 501))


async def test_what_is_not_to_be_had_stays_a_gap_and_the_rest_arrives():
    link = PagingLink(0)
    arrivals = await heard(link, snapshot(state(), run_of(1, 10)), update(state(), run_of(50, 5)))
    assert numbers(arrivals) == [*range(1, 11), *range(50, 55)]


async def test_another_joint_begins_at_one():
    link = PagingLink(0)
    other = run_of(1, 3).model_copy(update={"joint_uuid": UUID.replace("117", "118")})
    arrivals = await heard(link, snapshot(state(), run_of(1, 10)), snapshot(state(), other))
    assert numbers(arrivals)[-3:] == [1, 2, 3]
    assert link.asked == []


@pytest.mark.parametrize("url", ["", "recorder:8000", "ftp://recorder"])
def test_an_address_it_cannot_use_is_refused(url):
    with pytest.raises(InputError, match="http"):
        RecorderLink(Place(url=url))


async def test_nobody_there_is_lost_and_tried_again(tmp_path):
    link = RecorderLink(Place(socket=tmp_path / "r.sock"))
    arrivals = link.arrivals()
    assert [type(await anext(arrivals)) for _ in range(2)] == [Lost, Lost]
    with pytest.raises(DeviceError, match="no recorder answers"):
        await link.get(SamplesMessage, "/v1/curve")
    await link.close()
