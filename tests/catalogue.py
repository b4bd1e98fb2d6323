"""The message catalogues of the monitor: `python -m tests.catalogue` brings them up to date.

Texts are found in the sources of `tui` and in the tables of `logger.wording` that the monitor shows. New
ones stand empty in the .po files until somebody translates them; run it again after that: it compiles the
.mo files.
"""

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_python
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from logger.wording.checklist_text import CHECK_TEXTS
from logger.wording.events import PHASE_NAMES, VERDICT_NAMES
from logger.wording.plan_text import MARK_TEXT
from tui.catalogue import DOMAIN, ROOM
from tui.plan_words import CAUTION_TEXTS

ROOT = Path(__file__).parents[1]
LOCALES = ROOT / "tui" / "locale"
LANGUAGES = {"de": "German", "es": "Spanish", "tr": "Turkish"}
KEYWORDS = {"tr": None, "label": None, "caption": None, "pgettext": ((1, "c"), 2)}
"""Functions that look a text up, as Babel's extractor takes them."""
DATE = datetime(2026, 11, 25, tzinfo=UTC)
"""In the files' headers: fixed, so that an update changes only texts."""
SHARED = (PHASE_NAMES, VERDICT_NAMES, CHECK_TEXTS, MARK_TEXT, CAUTION_TEXTS)
"""Tables of texts that are looked up by `tr` where they are shown."""
NAMES = {
    "project": "Beadwatch monitor",
    "version": "1",
    "msgid_bugs_address": "none",
    "last_translator": "unreviewed draft",
    "language_team": "none",
}
HEADER = """\
# {language} texts of the monitor.
# DRAFT, not reviewed: nobody who speaks the language and knows the trade has checked it yet. The monitor says
# so on every screen until the text in the context "review state" is no longer "draft".
"""


@dataclass(frozen=True)
class Text:
    """One text of the sources and the smallest place it has to fit."""

    text: str
    context: str | None
    room: int


def texts() -> list[Text]:
    """Every text once."""
    found: dict[tuple[str | None, str], int] = {}
    for context, text, room in _found():
        found[context, text] = min(room, found.get((context, text), room))
    return [Text(text, context, room) for (context, text), room in sorted(found.items(), key=str)]


def _found() -> Iterator[tuple[str | None, str, int]]:
    for path in sorted((ROOT / "tui").rglob("*.py")):
        with path.open("rb") as stream:
            for _, function, message, _ in extract_python(stream, KEYWORDS, (), {}):
                if function == "pgettext":
                    yield message[0], message[1], ROOM["label"]
                    continue
                # Without a text a variable is looked up: its texts are in the tables.
                text = message[0] if isinstance(message, tuple) else message
                if text:
                    yield None, text, ROOM[function]
    for table in SHARED:
        for text in table.values():
            yield None, text, ROOM["tr"]


def po_file(language: str) -> Path:
    return LOCALES / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def catalogue_of(language: str) -> Catalog:
    with po_file(language).open("rb") as stream:
        return read_po(stream, locale=language)


def compiled(catalogue: Catalog) -> bytes:
    buffer = BytesIO()
    write_mo(buffer, catalogue)
    return buffer.getvalue()


def placeholders(text: str) -> set[str]:
    return set(re.findall(r"\{(\w+)\}", text))


def update(language: str) -> int:
    """Bring one language up to date; return how many texts it lacks."""
    path = po_file(language)
    old = catalogue_of(language) if path.exists() else Catalog(locale=language)
    new = Catalog(locale=language, fuzzy=False, charset="utf-8", **NAMES)
    new.header_comment = HEADER.format(language=LANGUAGES[language])
    new.creation_date = new.revision_date = DATE
    missing = 0
    for text in texts():
        known = old.get(text.text, text.context)
        said = known.string if known else ""
        missing += not said
        new.add(text.text, said, context=text.context)
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as stream:
        write_po(stream, new, width=110)
    path.with_suffix(".mo").write_bytes(compiled(new))
    return missing


def main() -> None:
    for language in LANGUAGES:
        sys.stdout.write(f"{language}: {update(language)} of {len(texts())} texts are not translated\n")


if __name__ == "__main__":
    main()
