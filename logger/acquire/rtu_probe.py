"""A question whose answer cannot be taken for the answer to any other. Pure.

RTU answers carry no number, so after an unanswered question nothing tells its late answer from the next one,
but its length. A device answers in the order in which it was asked; once it has answered a question whose
answer has a length of its own, all that was asked before is done with.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.acquire.rtu_frame import Question

_SIZES = range(1, 126)


@dataclass(frozen=True, slots=True)
class Probe:
    """The `question` to ask; `is_mapped` tells that it stays within what the device is known to have."""

    question: Question
    is_mapped: bool


def probe_for(questions: Sequence[Question]) -> Probe:
    """Return the probe of one unit, given all questions ever put to it (at least one).

    Within the map where a shorter read gives an answer of unused length; else the shortest longer read, which
    the device answers with data or with an exception: both differ from the data it was asked for before.
    """
    used = {(question.function, question.answer_payload_bytes) for question in questions}
    for question in questions:
        for probe in _resized(question):
            if probe.count < question.count and (probe.function, probe.answer_payload_bytes) not in used:
                return Probe(probe, is_mapped=True)
    longest = max(questions, key=lambda question: question.answer_payload_bytes)
    beyond = (probe for probe in _resized(longest) if probe.count > longest.count)
    return Probe(next(beyond, longest), is_mapped=False)


def _resized(question: Question) -> list[Question]:
    step = 8 if question.table.holds_bits else 1
    return [
        Question(question.unit_id, question.table, question.address, step * (size - 1) + 1) for size in _SIZES
    ]
