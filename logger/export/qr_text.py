"""A QR code in characters, for a terminal: two rows of squares in one line."""

from collections.abc import Iterator

from reportlab.graphics.barcode.qr import QrCodeWidget

_BORDER = 4
"""Squares of quiet zone that the code needs around it (ISO/IEC 18004, from memory)."""
_HALVES = {(False, False): "█", (True, False): "▄", (False, True): "▀", (True, True): " "}
"""Upper and lower square, dark or not; light squares are drawn, so that it reads on a dark terminal."""


def qr_lines(text: str) -> Iterator[str]:
    """Yield the lines of the code."""
    code = QrCodeWidget(text, barLevel="M").qr
    code.make()
    size = len(code.modules)

    def is_dark(row: int, column: int) -> bool:
        inside = 0 <= row < size and 0 <= column < size
        return inside and bool(code.modules[row][column])

    for row in range(-_BORDER, size + _BORDER, 2):
        columns = range(-_BORDER, size + _BORDER)
        yield "".join(_HALVES[is_dark(row, column), is_dark(row + 1, column)] for column in columns)
