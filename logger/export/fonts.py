"""The typeface of everything printed: embedded, with the letters of most names."""

from functools import cache
from importlib.resources import as_file, files

from reportlab.graphics.shapes import STATE_DEFAULTS
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

PLAIN, BOLD = "Page", "Page-Bold"
_FILES = {PLAIN: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf"}


@cache
def register_fonts() -> None:
    """Make PLAIN and BOLD known to the PDF library, once."""
    for name, file in _FILES.items():
        with as_file(files("configs") / "fonts" / file) as path:
            pdfmetrics.registerFont(TTFont(name, str(path)))
    # Every drawing names this font in the file even where it writes nothing in it.
    STATE_DEFAULTS["fontName"] = PLAIN
