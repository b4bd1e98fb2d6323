"""Joints that are not there, and curves that are too much alike, on lists written by hand."""

from dataclasses import replace

import pytest

from logger.domain.judgement import Boundary
from logger.judge.project_checks import alike, missing_numbers
from tests.unit.store.record_values import JUDGEMENT


@pytest.mark.parametrize(
    ("numbers", "missing"),
    [
        (["K-117", "K-119"], ["K-118"]),
        (["K-008", "K-011"], ["K-009", "K-010"]),
        (["K-1", "L-3"], []),
        (["3a", "5a", "4b"], ["4a"]),
        (["K-1", "K-2", "K-2"], []),
        (["north", "south"], []),
        (["K-1", "K-5000"], []),
    ],
)
def test_missing_numbers(numbers, missing):
    assert missing_numbers(numbers) == missing


def whole(shift_s):
    spans = tuple(
        replace(
            span,
            start=Boundary(at_s=100.0 * k + shift_s, u_s=0.05),
            end=Boundary(at_s=100.0 * (k + 1) + shift_s + k * shift_s / 10, u_s=0.05),
        )
        for k, span in enumerate(JUDGEMENT.phases)
    )
    return replace(JUDGEMENT, phases=spans)


def test_equal_durations_in_every_phase_are_alike_and_one_other_is_not():
    assert alike({"a": whole(0.0), "b": whole(0.0), "c": whole(7.0)}) == [("a", "b")]
    assert alike({"a": JUDGEMENT, "b": JUDGEMENT}) == []
