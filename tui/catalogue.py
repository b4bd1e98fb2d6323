"""Every text the operator reads, in the operator's language (gettext).

`tr`, `label` and `caption` look a text up; which of them is used says how much room there is, and the tests
hold every translation to that room. English is the text itself. The words shared with the command line
(`logger.wording`) speak the same language from `use` on.
"""

import gettext
from importlib import resources

from logger.wording.language import say, speak, spoken

DOMAIN = "monitor"
ENGLISH = "en"
ROOM = {"tr": 160, "label": 15, "caption": 34, "say": 220}
"""Characters that fit: two lines of 80 columns; a key's name; what stands under a figure; a paragraph."""
_DRAFT = "draft"


def languages() -> tuple[str, ...]:
    """Languages there are, English first."""
    folder = resources.files("tui") / "locale"
    found = sorted(entry.name for entry in folder.iterdir() if entry.is_dir()) if folder.is_dir() else []
    return (ENGLISH, *(name for name in found if not name.startswith("__")))


def use(language: str) -> None:
    """Speak this language from now on. Raises KeyError where there is no such catalogue."""
    if language == ENGLISH:
        speak(gettext.NullTranslations())
        return
    if language not in languages():
        raise KeyError(language)
    file = resources.files("tui") / "locale" / language / "LC_MESSAGES" / f"{DOMAIN}.mo"
    with file.open("rb") as stream:
        speak(gettext.GNUTranslations(stream))


def is_draft() -> bool:
    """Nobody who speaks the language has checked the translation."""
    return spoken().pgettext("review state", "reviewed") == _DRAFT


def tr(text: str, **parameters: object) -> str:
    """A sentence; `{name}` in it is filled from the parameters."""
    return say(text, **parameters)


def label(text: str) -> str:
    """The name of a key."""
    return say(text)


def caption(text: str, **parameters: object) -> str:
    """A few words beside a figure."""
    return say(text, **parameters)


def capitals(text: str) -> str:
    """The text in capitals: Turkish has a dot on the capital of i."""
    return text.replace("i", spoken().pgettext("capital of i", "I")).upper()
