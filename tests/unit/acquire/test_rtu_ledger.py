"""No answer is taken for another's, whatever a device does that answers in order."""

from hypothesis import example, given, settings
from hypothesis import strategies as st

from logger.acquire.rtu_frame import Question
from logger.acquire.rtu_ledger import Ledger, shape_of
from logger.domain.bus import Table

NEVER_S = 1e9


def holding(address: int, count: int) -> Question:
    return Question(3, Table.HOLDING, address, count)


def test_questions_of_different_shapes_need_no_probe():
    ledger = Ledger([holding(0, 2), holding(50, 3)], NEVER_S)
    ledger.asked(holding(0, 2), 0.0)
    assert ledger.next_question(holding(50, 3), 1.0) == holding(50, 3)


def test_an_open_shape_is_made_free_with_a_shorter_read():
    ledger = Ledger([holding(0, 2), holding(100, 4), holding(200, 1)], NEVER_S)
    ledger.asked(holding(0, 2), 0.0)
    probe = ledger.next_question(holding(0, 2), 1.0)
    assert probe == holding(100, 3), "one and two registers are in use"
    ledger.asked(probe, 1.0)
    ledger.answered(shape_of(probe))
    assert ledger.is_free(probe)
    assert ledger.next_question(holding(0, 2), 2.0) == holding(0, 2)


def test_a_probe_that_is_itself_open_is_not_asked_again():
    ledger = Ledger([holding(100, 3)], NEVER_S)
    ledger.asked(holding(100, 3), 0.0)
    probes = []
    for now_s in range(1, 5):
        probes.append(ledger.next_question(holding(100, 3), now_s))
        ledger.asked(probes[-1], now_s)
    assert [probe.count for probe in probes] == [1, 2, 4, 5], "within the map first"


def test_bits_differ_by_whole_bytes():
    ledger = Ledger([Question(3, Table.COIL, 0, 8)], NEVER_S)
    ledger.asked(Question(3, Table.COIL, 0, 8), 0.0)
    assert ledger.next_question(Question(3, Table.COIL, 0, 8), 1.0).count == 9


def test_an_exception_is_only_certain_for_the_single_open_question():
    ledger = Ledger([holding(0, 1)], NEVER_S)
    ledger.asked(holding(0, 1), 0.0)
    ledger.asked(holding(0, 2), 1.0)
    assert ledger.refused(holding(0, 2), 4) is False
    assert not ledger.is_free(holding(0, 1)), "no question of function 4 is open"
    assert ledger.refused(holding(0, 2), 3) is False
    assert ledger.is_free(holding(0, 1))
    assert ledger.refused(holding(0, 2), 3) is True


def test_the_oldest_is_forgotten_in_time_and_when_nothing_is_left_to_ask_time_must_pass():
    ledger = Ledger([holding(0, 1)], 10.0)
    ledger.asked(holding(0, 1), 0.0)
    for _ in range(124):
        ledger.asked(ledger.next_question(holding(0, 1), 5.0), 5.0)
    assert ledger.next_question(holding(0, 1), 9.9) is None
    assert ledger.next_question(holding(0, 1), 10.0) == holding(0, 1)


TIMEOUT_S, QUIET_S = 1.0, 0.8
MAPPED = 60
WANTED = [holding(0, 4), holding(20, 4), holding(40, 2), Question(3, Table.INPUT, 7, 1)]
DELAYS = st.lists(st.one_of(st.just(0.01), st.floats(0.0, 8.0), st.none()), min_size=4, max_size=60)


class SlowDevice:
    """Takes `delays_s` in turn over its answers, None being none at all, and keeps its order.

    It answers reads beyond its map, and those of input registers where `refuses`, with an exception.
    """

    def __init__(self, delays_s: list[float | None], *, refuses: bool) -> None:
        self._delays_s = delays_s
        self._refuses = refuses
        self._asked = 0
        self._answers: list[tuple[float, int, Question]] = []

    def ask(self, question: Question, now_s: float) -> int:
        """Return the number of the question."""
        delay_s = self._delays_s[self._asked % len(self._delays_s)]
        self._asked += 1
        if delay_s is not None:
            earlier = [when_s for when_s, _, _ in self._answers]
            self._answers.append((max([now_s + delay_s, *earlier]), self._asked, question))
        return self._asked

    def answers(self, from_s: float, to_s: float) -> list[tuple[float, int, Question]]:
        return [answer for answer in self._answers if from_s <= answer[0] <= to_s]

    def is_refusal(self, question: Question) -> bool:
        is_beyond = question.address + question.count > MAPPED
        return is_beyond or (self._refuses and question.table is Table.INPUT)


class Master:
    """Asks as the driver does, in the time of the model; counts what it took for an answer."""

    def __init__(self, device: SlowDevice) -> None:
        self._device = device
        self._ledger = Ledger(WANTED, NEVER_S)
        self._now_s = 0.0
        self.answered = 0

    def read(self, wanted: Question) -> None:
        while (question := self._ledger.next_question(wanted, self._now_s)) is not None:
            if not self._exchange(question, wanted) or question == wanted:
                return

    def _exchange(self, question: Question, wanted: Question) -> bool:
        asked_s = self._now_s
        self._ledger.asked(question, asked_s)
        number = self._device.ask(question, asked_s)
        for when_s, answers_number, answers in self._device.answers(asked_s, asked_s + TIMEOUT_S):
            self._now_s = when_s + 0.001
            if self._device.is_refusal(answers):
                is_taken = self._ledger.refused(question, answers.function)
            else:
                self._ledger.answered(shape_of(answers))
                is_taken = shape_of(answers) == shape_of(question)
                self.answered += is_taken and question == wanted
            if is_taken:
                assert answers_number == number, "another question's answer was taken"
            if is_taken or (question != wanted and self._ledger.is_free(wanted)):
                return True
        self._now_s = asked_s + TIMEOUT_S + QUIET_S
        return False


@settings(max_examples=400, deadline=None)
@given(DELAYS, st.lists(st.integers(0, 3), min_size=10, max_size=30), st.booleans())
@example([1.5] * 4, [0, 1] * 10, False)
@example([2.7] * 4, [0, 1] * 10, False)
def test_no_answer_is_ever_taken_for_anothers(delays_s, order, refuses):
    master = Master(SlowDevice(delays_s, refuses=refuses))
    for position in order:
        master.read(WANTED[position])
    if all(delay_s is not None and delay_s < TIMEOUT_S for delay_s in delays_s) and not refuses:
        assert master.answered == len(order), "a prompt device loses nothing"
