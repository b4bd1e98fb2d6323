"""Texts in the language of whoever reads them (gettext); English is the text itself.

Only the monitor calls `speak`. In every other process, and so in records, JSON and on the command line, all
texts are English.
"""

import gettext
import string
from typing import Any

_current: gettext.NullTranslations = gettext.NullTranslations()


def speak(translations: gettext.NullTranslations) -> None:
    """Use these translations from now on, in all of this process."""
    global _current
    _current = translations


def spoken() -> gettext.NullTranslations:
    """The translations in use."""
    return _current


def say(text: str, /, **values: object) -> str:
    """The text in the reader's language; `{name:.1f}` in it is filled from the values.

    A text without a translation stays English: names, documents and whatever a device says are such texts.
    """
    said = _current.gettext(text) if text else text
    return _FIGURES.vformat(said, (), values) if values else said


def figure(value: float, form: str = "") -> str:
    """A number as `format` writes it, with the decimal sign of the language."""
    return format(value, form).replace(".", decimal_sign())


def capitalized(text: str) -> str:
    """The text with a capital at its front, the rest as it is but for English; Turkish has a dot on it."""
    return text[:1].replace("i", _current.pgettext("capital of i", "I")).upper() + text[1:]


def decimal_sign() -> str:
    return _current.pgettext("decimal sign", ".")


class _Figures(string.Formatter):
    """Formats as `str.format` does, with the decimal sign of the language in figures."""

    def format_field(self, value: Any, format_spec: str) -> str:
        return (
            figure(value, format_spec)
            if isinstance(value, float)
            else super().format_field(value, format_spec)
        )


_FIGURES = _Figures()
