"""A page of text in sections, worded already: what a printed card or report is drawn from."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """Label, value and a note such as a source's number; `strong` rows are read from a distance."""

    label: str
    value: str
    note: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSection:
    heading: str
    rows: tuple[SheetRow, ...] = ()
    bullets: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One page. `warning` is printed large, empty where there is none."""

    title: str
    subtitle: str
    warning: str = ""
    sections: tuple[SheetSection, ...]
    footnotes: tuple[str, ...] = ()
