import pytest

from logger.acquire.cadence import Cadence


def test_slots_stand_at_absolute_times():
    cadence = Cadence(100.0, 8.0)
    due = []
    for _ in range(4):
        due.append(cadence.due_s)
        assert cadence.advance(cadence.due_s + 0.01) == 0
    assert due == [100.0, 100.125, 100.25, 100.375]


def test_a_stall_is_counted_and_not_caught_up():
    cadence = Cadence(0.0, 10.0)
    assert cadence.advance(0.35) == 3  # 0.1, 0.2 and 0.3 have begun without a poll
    assert cadence.due_s == pytest.approx(0.4)
    assert cadence.advance(0.41) == 0
    assert cadence.due_s == pytest.approx(0.5)


def test_ready_exactly_when_the_next_slot_begins_is_in_time():
    cadence = Cadence(0.0, 10.0)
    for _ in range(1000):
        assert cadence.advance(cadence.due_s + 0.1) == 0
    assert cadence.due_s == pytest.approx(100.0)


@pytest.mark.parametrize("rate_hz", [1.0, 3.0, 7.0, 50.0])
def test_an_hour_does_not_drift(rate_hz):
    cadence = Cadence(12345.678, rate_hz)
    for _ in range(int(3600 * rate_hz)):
        cadence.advance(cadence.due_s)
    assert cadence.due_s == pytest.approx(12345.678 + 3600, abs=1e-6)
