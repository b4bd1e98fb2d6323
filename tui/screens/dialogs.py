"""Questions that stand in front of a screen: yes or no, a few words."""

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input

from tui.catalogue import label, tr
from tui.widgets.lines import Lines

_CSS = """
%(name)s { align: center middle; }
%(name)s > Vertical {
    width: 70; max-width: 95%%; height: auto; border: heavy $foreground; background: $background; padding: 1;
}
%(name)s Lines { height: auto; width: 1fr; }
"""


class ConfirmDialog(ModalScreen[bool]):
    """A question answered with Y or N."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "answer(True)"),
        Binding("n", "answer(False)"),
        Binding("escape", "answer(False)"),
    ]
    DEFAULT_CSS = _CSS % {"name": "ConfirmDialog"}

    def __init__(self, question: str) -> None:
        super().__init__()
        self._question = question

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Lines([self._question, "", f"[Y] {label('yes')}   [N] {label('no')}"])

    def action_answer(self, is_yes: bool) -> None:  # noqa: FBT001 - the framework passes it so
        self.dismiss(is_yes)


class ReasonDialog(ModalScreen[str]):
    """A question answered in a few words; empty when it was left with Escape."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave")]
    DEFAULT_CSS = _CSS % {"name": "ReasonDialog"}

    def __init__(self, question: str) -> None:
        super().__init__()
        self._question = question

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Lines([self._question])
            yield Input(max_length=200)
            yield Lines(
                [f"[ENTER] {label('confirm')}   [ESC] {label('back')}", tr("Nothing is done before.")]
            )

    def on_input_submitted(self, event: Input.Submitted) -> None:
        if event.value.strip():
            self.dismiss(event.value.strip())

    def action_leave(self) -> None:
        self.dismiss("")
