"""Which questions to one unit may still be answered, so that no answer is taken for another's. Pure.

RTU answers carry no number; what tells them apart is unit, function and length, the shape. So no question is
asked while one with an answer of the same shape is open. A question that was not answered stays open, and its
shape is made free again with a probe: a read whose answer has a shape that is not open. A device answers in
the order in which it was asked: an answer closes its question and all before it, however late it comes.
"""

from collections.abc import Iterator, Sequence

from logger.acquire.rtu_frame import Question

_MAX_RESIZED = 125

Shape = tuple[int, int]
"""Function code and number of data bytes of an answer."""


def shape_of(question: Question) -> Shape:
    return question.function, question.answer_payload_bytes


class Ledger:
    """The open questions of one unit, oldest first, each with its time; no two have the same shape.

    All times are seconds of one monotonic clock. A question older than `forget_after_s` is taken as lost.
    """

    def __init__(self, questions: Sequence[Question], forget_after_s: float) -> None:
        """Take all questions that will ever be asked of the unit."""
        self._questions = questions
        self._used = {shape_of(question) for question in questions}
        self._forget_after_s = forget_after_s
        self._open: dict[Shape, float] = {}

    def open_all(self, now_s: float) -> None:
        """Assume that every question was just asked by somebody else, who did not wait for the answers."""
        self._open |= dict.fromkeys(sorted(self._used), now_s)

    def next_question(self, wanted: Question, now_s: float) -> Question | None:
        """Return `wanted` if it may be asked now, else a probe, else None: then only time helps."""
        self._open = {
            s: asked_s for s, asked_s in self._open.items() if now_s - asked_s < self._forget_after_s
        }
        if self.is_free(wanted):
            return wanted
        return next((probe for probe in self._probes() if self.is_free(probe)), None)

    def is_free(self, question: Question) -> bool:
        return shape_of(question) not in self._open

    def asked(self, question: Question, now_s: float) -> None:
        self._open[shape_of(question)] = now_s

    def answered(self, shape: Shape) -> None:
        """Close the question whose answer came, and all that were asked before it."""
        if shape in self._open:
            while next(iter(self._open)) != shape:
                self._close_oldest()
            self._close_oldest()

    def refused(self, question: Question, function: int) -> bool:
        """Note an exception to `function`; returns whether it certainly belongs to `question`.

        It fits every open question with that function, so it closes the oldest of them only and all before:
        these are done with, whichever it belongs to.
        """
        fitting = [shape for shape in self._open if shape[0] == function]
        if not fitting:
            return False
        is_certain = list(self._open) == [shape_of(question)]
        self.answered(fitting[0])
        return is_certain

    def _close_oldest(self) -> None:
        del self._open[next(iter(self._open))]

    def _probes(self) -> Iterator[Question]:
        """Yield shorter reads within the unit's map, then longer ones, which it answers or refuses."""
        resized = [(question, other) for question in self._questions for other in _resized(question)]
        for is_within in (True, False):
            for question, other in resized:
                if (other.count < question.count) is is_within and shape_of(other) not in self._used:
                    yield other


def _resized(question: Question) -> list[Question]:
    step = 8 if question.table.holds_bits else 1
    counts = (step * size + 1 for size in range(_MAX_RESIZED))
    return [Question(question.unit_id, question.table, question.address, count) for count in counts]
