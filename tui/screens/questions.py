"""Questions with several fields, and lists to choose from, in front of a screen."""

from collections.abc import Awaitable, Callable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import OptionList
from textual.worker import Worker

from logger.errors import BeadwatchError
from tui.catalogue import label, tr
from tui.widgets.form import Choice, Field, Form
from tui.widgets.lines import Lines

Answers = dict[str, str]

_CSS = """
%(name)s { align: center middle; }
%(name)s > Vertical {
    width: 78; max-width: 100%%; height: auto; max-height: 100%%;
    border: heavy $foreground; background: $background; padding: 0 1;
}
%(name)s Lines { height: auto; width: 1fr; }
%(name)s Lines.question { text-style: bold; }
%(name)s #caution { color: $warning; text-style: bold; }
%(name)s #refused { color: $error; text-style: bold; }
%(name)s Form { max-height: 14; }
%(name)s OptionList { height: auto; max-height: 16; }
%(name)s OptionList, %(name)s OptionList:focus { border: none; background: $background; }
%(name)s OptionList > .option-list--option-highlighted { text-style: bold reverse; }
"""


def keys_line(*names: tuple[str, str]) -> str:
    """Keys of a question with their names."""
    return "  ".join(f"[{key}] {name}" for key, name in names)


class PickDialog(ModalScreen[str | None]):
    """One of a list; None when it was left with Escape."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave")]
    DEFAULT_CSS = _CSS % {"name": "PickDialog"}

    def __init__(self, name: str, choices: Sequence[Choice]) -> None:
        super().__init__()
        self._question = name
        self._choices = tuple(choices)

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Lines([self._question], classes="question")
            yield OptionList(*(choice.text for choice in self._choices), markup=False)
            yield Lines(
                [keys_line(("↑↓", label("choose")), ("ENTER", label("take")), ("ESC", label("back")))]
            )

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(self._choices[event.option_index].value)

    def action_leave(self) -> None:
        self.dismiss(None)


class FormDialog(ModalScreen[str | None]):
    """Fields sent with F8. It stays, with the reason, until they were taken.

    Its answer is what `send` returns, to be said to the operator; None when it was left with Escape.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave"),
        Binding("f7", "pick"),
        Binding("f8", "send"),
    ]
    DEFAULT_CSS = _CSS % {"name": "FormDialog"}

    def __init__(
        self,
        question: str,
        fields: Sequence[Field],
        send: Callable[[Answers], Awaitable[str]],
        *,
        cautions: Sequence[str] = (),
    ) -> None:
        super().__init__()
        self._question = question
        self._fields = tuple(fields)
        self._send = send
        self._cautions = tuple(cautions)
        self._is_sending = False

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Lines([self._question], classes="question")
            yield Lines([f"▲ {caution}" for caution in self._cautions], id="caution")
            yield Form(self._fields)
            yield Lines(id="refused")
            keys = [("F8", label("record")), ("ESC", label("back"))]
            if any(field.choices for field in self._fields):
                keys += [("F7", label("list")), ("◀▶", label("choose"))]
            yield Lines([keys_line(*keys)])

    def on_mount(self) -> None:
        self.query_one(Form).action_step(0)

    def action_leave(self) -> None:
        self.dismiss(None)

    def action_pick(self) -> None:
        pick(self.query_one(Form))

    def on_form_finished(self) -> None:
        self.action_send()

    def action_send(self) -> None:
        if not self._is_sending:
            self._is_sending = True
            _: Worker[None] = self.run_worker(self._carry, group="answer")

    async def _carry(self) -> None:
        form = self.query_one(Form)
        empty = [f.key for f in self._fields if f.is_needed and not form.answers[f.key]]
        form.show_faults(dict.fromkeys(empty, tr("is needed")))
        if empty:
            form.focus_row(empty[0])
        else:
            try:
                said = await self._send(form.answers)
            except BeadwatchError as error:
                self.query_one("#refused", Lines).show(tr("NOT DONE: {reason}", reason=error))
            except ValueError:
                self.query_one("#refused", Lines).show(tr("NOT DONE: a figure is wanted"))
            else:
                self.dismiss(said)
        self._is_sending = False


def pick(form: Form) -> None:
    """Offer the choices of the row that is being filled in."""
    row = form.here
    if row is None or not row.field.choices:
        return

    def picked(value: str | None) -> None:
        if value is not None:
            row.input.answer = value

    form.app.push_screen(PickDialog(row.field.name, row.field.choices), picked)


def with_unit(text: str, unit: str) -> str:
    """A bare figure gets the unit asked for, whatever its decimal sign; with a unit it stays as typed."""
    figure = text.strip().replace(",", ".")
    try:
        float(figure)
    except ValueError:
        return text
    return f"{figure} {unit}"
