"""Large figures from blocks, to be read across a trench."""

from textual.geometry import Size

from tui.widgets.lines import Lines

_HEIGHT = 5
_SIGNS = {
    "0": ("████", "█  █", "█  █", "█  █", "████"),
    "1": ("  █ ", " ██ ", "  █ ", "  █ ", " ███"),
    "2": ("████", "   █", "████", "█   ", "████"),
    "3": ("████", "   █", " ███", "   █", "████"),
    "4": ("█  █", "█  █", "████", "   █", "   █"),
    "5": ("████", "█   ", "████", "   █", "████"),
    "6": ("████", "█   ", "████", "█  █", "████"),
    "7": ("████", "   █", "  █ ", " █  ", " █  "),
    "8": ("████", "█  █", "████", "█  █", "████"),
    "9": ("████", "█  █", "████", "   █", "████"),
    ":": (" ", "█", " ", "█", " "),
    ".": (" ", " ", " ", " ", "█"),
    ",": (" ", " ", " ", "█", "█"),
    "-": ("   ", "   ", "███", "   ", "   "),
    " ": (" ", " ", " ", " ", " "),
}


def figure_lines(text: str, room: Size) -> list[str]:
    """Return the text as blocks, as large as the room allows; as it is where even the smallest has none."""
    for scale in (3, 2, 1):
        lines = _scaled(text, scale)
        if len(lines) <= room.height and max(map(len, lines), default=0) <= room.width:
            return lines
    return [text]


def _scaled(text: str, scale: int) -> list[str]:
    """A cell is about twice as high as broad: two of them make a square."""
    lines = []
    for row in range(_HEIGHT):
        line = " ".join(_SIGNS[sign][row] for sign in text)
        lines += ["".join(cell * (2 * scale) for cell in line)] * scale
    return lines


class Figure(Lines):
    """A number in blocks, centred. Without a number the place is empty."""

    def laid_out(self, size: Size) -> list[str]:
        if not self.paragraphs or not self.paragraphs[0]:
            return []
        lines = figure_lines(self.paragraphs[0], size)
        above = max((size.height - len(lines)) // 2, 0)
        # One margin for all lines: blanks at the end of one belong to the sign.
        left = " " * max((size.width - max(map(len, lines))) // 2, 0)
        return [""] * above + [left + line for line in lines]
