"""The form of a traceability code by ISO 12176-4:2003; lengths and maker seen in a page restating it."""

from enum import StrEnum

PIPE_DIGITS = 40
FITTING_DIGITS = 26
_MAKER = slice(0, 4)


class CodeFault(StrEnum):
    """Why a code is not of the form; it is recorded as it is all the same."""

    NOT_DIGITS = "not only digits"
    LENGTH = "not as long"
    MAKER = "its first four digits are not two letters, A as 01 to Z as 26"


def digits_of(*, is_fitting: bool) -> int:
    """Return how many digits the code of a pipe, or of another part, has."""
    return FITTING_DIGITS if is_fitting else PIPE_DIGITS


def code_fault(code: str, *, is_fitting: bool) -> CodeFault | None:
    """Return what is wrong with the form, None for a good one; blanks and hyphens are for the eye."""
    plain = code.replace(" ", "").replace("-", "")
    if not (plain.isascii() and plain.isdigit()):
        return CodeFault.NOT_DIGITS
    if len(plain) != digits_of(is_fitting=is_fitting):
        return CodeFault.LENGTH
    letters = (plain[_MAKER][:2], plain[_MAKER][2:])
    return None if all("01" <= letter <= "26" for letter in letters) else CodeFault.MAKER
