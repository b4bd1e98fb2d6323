"""Fields to be filled in with keys only: each with its choices, and what is wrong with it below it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.events import DescendantFocus, Key
from textual.message import Message
from textual.widgets import Input

from tui.widgets.lines import Lines

NEEDED = "*"
"""Stands behind the name of a field that must be filled in."""
_HERE, _ELSEWHERE = "▶ ", "  "


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One value of a field and how it is read."""

    value: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field. With `is_closed` only the choices are taken, else they are offered beside free text."""

    key: str
    name: str
    hint: str = ""
    choices: tuple[Choice, ...] = ()
    is_closed: bool = False
    is_needed: bool = False
    value: str = ""


class Answer(Input):
    """Free text, or one of the choices."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "turn(-1)"),
        Binding("right", "turn(1)"),
        Binding("space", "turn(1)"),
    ]

    def __init__(self, field: Field) -> None:
        super().__init__(placeholder=field.hint, compact=True, max_length=200, select_on_focus=False)
        self.field = field
        self.answer = field.value

    @property
    def answer(self) -> str:
        if not self.field.is_closed:
            return self.value.strip()
        return next((choice.value for choice in self.field.choices if choice.text == self.value), "")

    @answer.setter
    def answer(self, value: str) -> None:
        texts = {choice.value: choice.text for choice in self.field.choices}
        self.value = texts.get(value, "") if self.field.is_closed else value
        self.cursor_position = len(self.value)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        return not self.field.is_closed and super().check_consume_key(key, character)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "turn":
            return self.field.is_closed
        if self.field.is_closed and action.startswith(("delete", "paste", "cut")):
            return False
        return super().check_action(action, parameters)

    async def _on_key(self, event: Key) -> None:
        # The framework calls the handler of the class above as well, unless it is prevented.
        if self.field.is_closed:
            event.prevent_default()

    def action_turn(self, step: int) -> None:
        """The next choice, or the one before."""
        values = [choice.value for choice in self.field.choices]
        if not values:
            return
        index = values.index(self.answer) + step if self.answer in values else 0
        self.answer = values[index % len(values)]


class Row(Vertical):
    """Name, answer, and below them what is wrong."""

    def __init__(self, field: Field) -> None:
        super().__init__()
        self.field = field
        self.input = Answer(field)
        self.name_line = Lines(classes="name")
        self.fault = Lines(classes="fault")
        self.show_name(is_here=False)

    def compose(self) -> ComposeResult:
        with Horizontal():
            yield self.name_line
            yield self.input
        yield self.fault

    def show_name(self, *, is_here: bool) -> None:
        needed = NEEDED if self.field.is_needed else ""
        self.name_line.show(f"{_HERE if is_here else _ELSEWHERE}{self.field.name}{needed}")


class Form(VerticalScroll, can_focus=False):
    """Rows in order; arrows, Tab and Enter go from one to the next."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down,enter", "step(1)", priority=False),
        Binding("up", "step(-1)"),
    ]
    DEFAULT_CSS = """
    Form { height: auto; scrollbar-size-vertical: 1; }
    Form Row { height: auto; }
    Form Row Horizontal { height: 1; }
    Form Row Lines.name { width: 26; height: 1; }
    Form Row Input { width: 1fr; background: $background; text-style: underline; padding: 0 1; }
    Form Row Input:focus { text-style: bold reverse; background-tint: $foreground 0%; }
    Form Row Input > .input--placeholder { color: $foreground; text-style: italic; }
    Form Row Lines.fault { height: auto; width: 1fr; color: $error; text-style: bold; padding: 0 0 0 2; }
    """

    class Changed(Message):
        """Something was typed or chosen."""

    class Finished(Message):
        """Enter was pressed in the last row."""

    def __init__(self, fields: Sequence[Field], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._first = tuple(fields)

    def compose(self) -> ComposeResult:
        for field in self._first:
            yield Row(field)

    @property
    def rows(self) -> dict[str, Row]:
        return {row.field.key: row for row in self.query(Row)}

    @property
    def answers(self) -> dict[str, str]:
        """What was answered, by the fields' keys."""
        return {key: row.input.answer for key, row in self.rows.items()}

    @property
    def here(self) -> Row | None:
        """The row that is being filled in."""
        return next((row for row in self.rows.values() if row.input.has_focus), None)

    def fill(self, answers: Mapping[str, str]) -> None:
        for key, row in self.rows.items():
            if key in answers:
                row.input.answer = answers[key]

    def show_faults(self, faults: Mapping[str, str]) -> None:
        """Show what is wrong at its field; the others are in order."""
        for key, row in self.rows.items():
            row.fault.show(*([f"! {faults[key]}"] if key in faults else []))

    def offer(self, choices: Mapping[str, tuple[Choice, ...]]) -> None:
        """Give rows their choices; what is answered stays."""
        for key, row in self.rows.items():
            if key in choices:
                row.field = row.input.field = replace(row.field, choices=choices[key])

    def reveal(self, prefix: str, *, is_shown: bool) -> None:
        """Show or hide the rows whose keys begin so."""
        for key, row in self.rows.items():
            if key.startswith(prefix):
                row.display = is_shown

    def focus_row(self, key: str) -> None:
        self.rows[key].input.focus()

    def action_step(self, step: int) -> None:
        inputs = [row.input for row in self.rows.values() if row.display]
        index = next((k for k, one in enumerate(inputs) if one.has_focus), -step)
        self.screen.set_focus(inputs[max(0, min(index + step, len(inputs) - 1))])

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        if event.input is [row.input for row in self.rows.values() if row.display][-1]:
            self.post_message(self.Finished())
        self.action_step(1)

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self.post_message(self.Changed())

    def on_descendant_focus(self, _: DescendantFocus) -> None:
        for row in self.rows.values():
            row.show_name(is_here=row.input.has_focus)
