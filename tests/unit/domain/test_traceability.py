"""Traceability codes are held against the form of ISO 12176-4 and recorded as they are either way."""

import pytest

from logger.domain.traceability import CodeFault, code_fault

PIPE = "0119" + "3" * 36
FITTING = "2601" + "0" * 22


@pytest.mark.parametrize(
    ("code", "is_fitting", "fault"),
    [
        (PIPE, False, None),
        (FITTING, True, None),
        (f"{PIPE[:20]} {PIPE[20:]}", False, None),
        (FITTING, False, CodeFault.LENGTH),
        (PIPE, True, CodeFault.LENGTH),
        (PIPE[:-1], False, CodeFault.LENGTH),
        ("PE-2031-117", False, CodeFault.NOT_DIGITS),
        ("\u0661" * 40, False, CodeFault.NOT_DIGITS),
        ("0027" + PIPE[4:], False, CodeFault.MAKER),
        ("2701" + PIPE[4:], False, CodeFault.MAKER),
    ],
)
def test_form(code, is_fitting, fault):
    assert code_fault(code, is_fitting=is_fitting) is fault
