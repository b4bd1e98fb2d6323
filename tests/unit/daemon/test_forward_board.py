"""What the forwarder tells reaches the state of the recorder, and a forwarder that is gone is seen to be."""

from datetime import timedelta

from logger.daemon.clock import MachineClock
from logger.daemon.forward_board import ForwardBoard
from logger.domain.forward_status import SILENT_AFTER_S, ForwardState, ForwardStatus
from logger.forward.outbox import Outbox, Parked, outbox_path
from logger.wire.live import ForwardingMessage


def text(utc):
    return utc.isoformat()


def test_the_board_shows_what_was_told_with_the_age_of_what_waits(tmp_path):
    clock = MachineClock()
    store = tmp_path / "record.db"
    board = ForwardBoard(store, clock)
    board.read()
    assert board.messages == ()
    assert not outbox_path(store).exists()
    outbox = Outbox(outbox_path(store))
    now = clock.utc()
    status = ForwardStatus(
        target="office",
        state=ForwardState.DISK_FULL,
        reason="503",
        since_utc=text(now),
        backlog=7,
        oldest_utc=text(now - timedelta(days=3)),
        sent=1,
        parked=0,
        utc=text(now),
    )
    outbox.tell(status)
    outbox.park("office", Parked(line="m,a=b c=1.0 1", reason="400", utc=text(now)))
    board.read()
    (message,) = board.messages
    assert (message.state, message.backlog, message.parked) == ("disk_full", 7, 1)
    assert round(message.oldest_age_s / 86_400.0) == 3
    outbox.tell(
        ForwardStatus(
            target="office", state=ForwardState.CAUGHT_UP, reason="", since_utc=text(now), backlog=0,
            oldest_utc="", sent=1, parked=0, utc=text(now - timedelta(seconds=2 * SILENT_AFTER_S)),
        )
    )  # fmt: skip
    board.read()
    assert board.messages == (
        ForwardingMessage(
            target="office",
            state="silent",
            reason="last caught_up",
            backlog=0,
            oldest_age_s=None,
            parked=1,
        ),
    )
    outbox.close()


def test_an_outbox_that_cannot_be_read_is_no_state_and_no_failure(tmp_path):
    store = tmp_path / "record.db"
    outbox_path(store).write_bytes(b"not a database at all, and long enough to be looked at" * 20)
    board = ForwardBoard(store, MachineClock())
    board.read()
    assert board.messages == ()
