"""The message catalogues of the monitor: `python -m tests.catalogue` brings them up to date.

Texts are found in the sources of `tui` and in those of `logger.wording` that the monitor speaks with. New
ones stand empty in the .po files until somebody translates them; run it again after that: it compiles the
.mo files.
"""

import ast
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

from logger.domain.checklist import CheckCode
from logger.domain.plate_surface import DECLARED, DUE_SOURCE
from logger.judge.decision import DECISION_RULE
from tui.catalogue import DOMAIN, ROOM

ROOT = Path(__file__).parents[1]
LOCALES = ROOT / "tui" / "locale"
LANGUAGES = {"de": "German", "es": "Spanish", "tr": "Turkish"}
KEYWORDS = {"tr": None, "label": None, "caption": None, "say": None, "pgettext": ((1, "c"), 2)}
"""Functions that look a text up, as Babel's extractor takes them."""
DATE = datetime(2026, 11, 25, tzinfo=UTC)
"""In the files' headers: fixed, so that an update changes only texts."""
WORDING = (
    "acceptance", "checklist_text", "events", "figures_text", "findings", "forward_states", "hand_text",
    "judgement_text", "measures_text", "notices", "plan_text", "plate_text", "reasons",
    "recorder_lines", "refusals",
)  # fmt: skip
"""Modules of `logger.wording`: what they `say`, and every text in their tables."""
CODES = (DECISION_RULE, DUE_SOURCE.text, DECLARED.text, *(code.replace("_", " ") for code in CheckCode))
"""Texts that come out of other rooms."""
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
    """Every text once. A paragraph wraps where it stands: a longer one has a longer translation."""
    found: dict[tuple[str | None, str], int] = {}
    for context, text, room in _found():
        room = max(room, round(1.4 * len(text))) if room == ROOM["say"] else room
        found[context, text] = min(room, found.get((context, text), room))
    return [Text(text, context, room) for (context, text), room in sorted(found.items(), key=str)]


def _found() -> Iterator[tuple[str | None, str, int]]:
    wording = [ROOT / "logger" / "wording" / f"{name}.py" for name in (*WORDING, "language")]
    for path in (*sorted((ROOT / "tui").rglob("*.py")), *wording):
        with path.open("rb") as stream:
            for _, function, message, _ in extract_python(stream, KEYWORDS, (), {}):
                if function == "pgettext":
                    yield message[0], message[1], ROOM["label"]
                    continue
                # Without a text a variable is looked up: its texts are in the tables.
                text = message[0] if isinstance(message, tuple) else message
                if text:
                    yield None, text, ROOM[function]
    for path in wording:
        for text in _in_tables(path):
            yield None, text, ROOM["say"]
    for text in CODES:
        yield None, text, ROOM["say"]


def _in_tables(path: Path) -> Iterator[str]:
    """The texts among a module's constants: by themselves, in tuples and as values of tables."""
    for statement in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(statement, ast.Assign | ast.AnnAssign) and statement.value is not None:
            yield from _texts_of(statement.value)


def _texts_of(node: ast.expr) -> Iterator[str]:
    match node:
        case ast.Constant(value=str(text)) if text:
            yield text
        case ast.Dict(values=parts) | ast.Tuple(elts=parts):
            for part in parts:
                yield from _texts_of(part)


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
    """Holes with their formats: a translation has the same ones."""
    return set(re.findall(r"\{\w+(?::[^}]*)?\}", text))


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
