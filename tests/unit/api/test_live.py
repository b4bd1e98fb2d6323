"""The live link: hello, a snapshot, updates without holes, and what a slow viewer is told."""

import asyncio

import pytest
from pydantic import TypeAdapter

from logger.api import live
from logger.api.app import app_of
from logger.api.feed import BACKLOG, SNAPSHOT_SAMPLES, Feed
from logger.wire.stream import HelloMessage, LiveMessage, SnapshotMessage, UpdateMessage
from tests.unit.api.asgi import websocket
from tests.unit.api.fake_recorder import UUID, FakeArchive, FakeDesk, FakeView

OTHER = "8c1d2c56-0d1f-4f0f-9d6a-000000000002"


@pytest.fixture
def view():
    return FakeView()


def numbers(message):
    """The numbers of the samples that a message brings."""
    samples = message.samples
    return [] if samples is None else [samples.first_seq + k for k in range(len(samples.t_s))]


def test_a_snapshot_comes_first_and_updates_go_on_where_it_ended(view):
    view.count = 30
    feed = Feed(view)
    first = feed.next_message(is_due=False)
    assert isinstance(first, SnapshotMessage)
    assert first.plan is not None
    assert numbers(first) == list(range(1, 31))
    view.count = 33
    update = feed.next_message(is_due=False)
    assert isinstance(update, UpdateMessage)
    assert (numbers(update), update.skipped) == ([31, 32, 33], 0)


def test_nothing_new_is_no_message_until_a_sign_of_life_is_due(view):
    feed = Feed(view)
    feed.next_message(is_due=False)
    assert feed.next_message(is_due=False) is None
    sign = feed.next_message(is_due=True)
    assert isinstance(sign, UpdateMessage)
    assert numbers(sign) == []


def test_each_event_comes_once(view):
    view.happen("one")
    feed = Feed(view)
    assert [event.code for event in feed.next_message(is_due=False).state.events] == ["one"]
    view.happen("two")
    assert [event.code for event in feed.next_message(is_due=False).state.events] == ["two"]
    assert feed.next_message(is_due=False) is None


def test_a_slow_viewer_is_dropped_to_the_newest_and_told_how_many_it_missed(view):
    feed = Feed(view)
    feed.next_message(is_due=False)
    view.count = BACKLOG + 250
    update = feed.next_message(is_due=False)
    assert update.skipped == 250
    assert numbers(update) == list(range(251, BACKLOG + 251))


def test_a_viewer_that_comes_back_gets_only_what_it_has_not_seen(view):
    view.count = 100
    assert numbers(Feed(view, UUID, 90).next_message(is_due=False)) == list(range(91, 101))


def test_another_joint_begins_at_its_first_sample(view):
    view.count = 100
    assert numbers(Feed(view, OTHER, 90).next_message(is_due=False)) == list(range(1, 101))
    feed = Feed(view)
    feed.next_message(is_due=False)
    view.joint_uuid, view.count = OTHER, 5
    snapshot = feed.next_message(is_due=False)
    assert isinstance(snapshot, SnapshotMessage)
    assert snapshot.samples.joint_uuid == OTHER
    assert numbers(snapshot) == [1, 2, 3, 4, 5]


def test_another_plan_brings_a_snapshot_without_the_samples_again(view):
    view.count = 40
    feed = Feed(view)
    feed.next_message(is_due=False)
    view.count, view.model = 42, view.model.model_copy()
    snapshot = feed.next_message(is_due=False)
    assert isinstance(snapshot, SnapshotMessage)
    assert numbers(snapshot) == [41, 42]


def test_the_end_of_a_joint_is_a_snapshot_without_samples(view):
    view.count = 40
    feed = Feed(view)
    feed.next_message(is_due=False)
    view.joint_uuid = None
    snapshot = feed.next_message(is_due=False)
    assert (snapshot.plan, snapshot.samples) == (None, None)


def test_a_long_joint_comes_in_bounded_messages(view):
    view.count = SNAPSHOT_SAMPLES + 10
    found = numbers(Feed(view).next_message(is_due=False))
    assert (found[0], len(found)) == (11, SNAPSHOT_SAMPLES)


def test_a_viewer_that_claims_more_than_there_is_gets_no_sample_twice_and_none_from_the_future(view):
    view.count = 10
    feed = Feed(view, UUID, 10_000)
    assert numbers(feed.next_message(is_due=False)) == []
    view.count = 12
    assert numbers(feed.next_message(is_due=False)) == [11, 12]


async def test_over_the_link_hello_snapshot_and_updates_are_messages_of_the_contract(view, monkeypatch):
    monkeypatch.setattr(live, "BETWEEN_MESSAGES_S", 0.0)
    message = TypeAdapter(LiveMessage)
    view.count = 3
    app = app_of(view, FakeDesk(), FakeArchive(), "0")
    async with websocket(app, "/v1/live") as socket:
        assert isinstance(message.validate_json(await socket.text()), HelloMessage)
        assert isinstance(message.validate_json(await socket.text()), SnapshotMessage)
        await socket.say("nobody listens to this")
        view.happen("phase.bead_up")
        update = message.validate_json(await socket.text())
    assert isinstance(update, UpdateMessage)
    assert [event.code for event in update.state.events] == ["phase.bead_up"]


async def test_a_viewer_that_does_not_read_is_heard_to_leave(view, monkeypatch):
    monkeypatch.setattr(live, "BETWEEN_MESSAGES_S", 0.0)
    app = app_of(view, FakeDesk(), FakeArchive(), "0")
    async with websocket(app, "/v1/live", room=1) as socket:
        await socket.text()
        while not socket.to_viewer.full():
            await asyncio.sleep(0)
        view.count = 1
        for _ in range(50):
            await asyncio.sleep(0)
        assert socket.to_viewer.full()
