"""Every text the operator reads, in the operator's language (gettext).

`tr`, `label` and `caption` look a text up; which of them is used says how much room there is, and the tests
hold every translation to that room. English is the text itself.
"""

import gettext
from importlib import resources

DOMAIN = "monitor"
ENGLISH = "en"
ROOM = {"tr": 160, "label": 15, "caption": 34}
"""Characters that fit: two lines of 80 columns; a key's name; the line under the large figure."""
_DRAFT = "draft"

_current: gettext.NullTranslations = gettext.NullTranslations()


def languages() -> tuple[str, ...]:
    """Languages there are, English first."""
    folder = resources.files("tui") / "locale"
    found = sorted(entry.name for entry in folder.iterdir() if entry.is_dir()) if folder.is_dir() else []
    return (ENGLISH, *(name for name in found if not name.startswith("__")))


def use(language: str) -> None:
    """Speak this language from now on. Raises KeyError where there is no such catalogue."""
    global _current
    if language == ENGLISH:
        _current = gettext.NullTranslations()
        return
    if language not in languages():
        raise KeyError(language)
    file = resources.files("tui") / "locale" / language / "LC_MESSAGES" / f"{DOMAIN}.mo"
    with file.open("rb") as stream:
        _current = gettext.GNUTranslations(stream)


def is_draft() -> bool:
    """Nobody who speaks the language has checked the translation."""
    return _current.pgettext("review state", "reviewed") == _DRAFT


def tr(text: str, **parameters: object) -> str:
    """A sentence; `{name}` in it is filled from the parameters."""
    said = _current.gettext(text)
    return said.format_map(parameters) if parameters else said


def label(text: str) -> str:
    """The name of a key."""
    return _current.gettext(text)


def caption(text: str, **parameters: object) -> str:
    """A few words beside a figure."""
    return tr(text, **parameters)


def decimal_sign() -> str:
    return _current.pgettext("decimal sign", ".")


def capitals(text: str) -> str:
    """The text in capitals: Turkish has a dot on the capital of i."""
    return text.replace("i", _current.pgettext("capital of i", "I")).upper()
