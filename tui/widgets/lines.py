"""Lines of text of which only what changed is sent to the terminal."""

import textwrap
from collections.abc import Iterable, Iterator

from rich.segment import Segment
from textual.events import Resize
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

UNBROKEN = "\u00a0"
"""A blank at which no line is broken."""


class Lines(Widget):
    """Shows paragraphs wrapped to its width. `show` with what stands there already costs nothing.

    A widget whose height is `auto` takes as many lines as its text needs, and none while it is empty.
    """

    def __init__(
        self, text: Iterable[str] = (), *, id: str | None = None, classes: str | None = None
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.paragraphs = tuple(text)
        self._shown: list[str] = []

    def show(self, *paragraphs: str) -> None:
        """Replace the text."""
        if paragraphs == self.paragraphs:
            return
        self.paragraphs = paragraphs
        self._redraw()

    def laid_out(self, size: Size) -> list[str]:
        """The text as lines of at most the width."""
        return [line for text in self.paragraphs for line in wrapped(text, size.width)]

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self.laid_out(Size(width, viewport.height)))

    def on_resize(self, _: Resize) -> None:
        self._shown = self._padded()
        self.refresh()

    def _redraw(self) -> None:
        before, after = self._shown, self._padded()
        self._shown = after
        if self.styles.is_auto_height and len(self.laid_out(self.size)) != self.size.height:
            self.refresh(layout=True)
            return
        regions = list(_changed(before, after)) if len(before) == len(after) else [self.size.region]
        if regions:
            self.refresh(*regions)

    def _padded(self) -> list[str]:
        width, height = self.size
        lines = self.laid_out(self.size)[:height]
        placed = str.center if self.styles.text_align == "center" else str.ljust
        return [placed(line[:width], width) for line in lines] + [" " * width] * (height - len(lines))

    def render_line(self, y: int) -> Strip:
        text = self._shown[y] if y < len(self._shown) else ""
        return Strip([Segment(text.ljust(self.size.width), self.rich_style)], self.size.width)


def wrapped(text: str, width: int) -> list[str]:
    """Lines of at most the width; at an unbroken blank no line ends."""
    lines = textwrap.wrap(text, max(width, 1)) or [""]
    return [line.replace(UNBROKEN, " ") for line in lines]


def _changed(before: list[str], after: list[str]) -> Iterator[Region]:
    for y, (old, new) in enumerate(zip(before, after, strict=True)):
        if old != new:
            different = [x for x, (a, b) in enumerate(zip(old, new, strict=False)) if a != b]
            first, last = (different[0], different[-1]) if different else (0, len(new) - 1)
            yield Region(first, y, last - first + 1, 1)
