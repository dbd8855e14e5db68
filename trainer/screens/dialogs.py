"""Two small questions that lie over a screen: one of several, or a line of text."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Footer, Input, OptionList, Static
from textual.widgets.option_list import Option

from trainer.report import plain

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.app import ComposeResult


class Choices(OptionList):
    """What may be chosen; enter takes it."""

    BINDINGS: ClassVar = [Binding("enter", "select", "Take it")]


class ChooseScreen(ModalScreen[str | None]):
    """Asks for one of several; answers what it stands for, None when nothing was chosen.

    Each choice is what it stands for and some words beside it. `chosen` is where the cursor begins.
    Among many, what is typed leaves those that hold it.
    """

    BINDINGS: ClassVar = [
        Binding("up", "move('up')", "Up", show=False),
        Binding("down", "move('down')", "Down", show=False),
        Binding("pageup", "move('page_up')", "Page up", show=False),
        Binding("pagedown", "move('page_down')", "Page down", show=False),
        Binding("escape", "dismiss(None)", "Back"),
    ]

    def __init__(
        self, question: str, choices: Sequence[tuple[str, str]], chosen: str | None = None
    ) -> None:
        super().__init__()
        self._question, self._choices, self._chosen = question, choices, chosen
        self._many = len(choices) > MANY
        self._fitting = [*choices]

    def compose(self) -> ComposeResult:
        """Lay out the question and the choices."""
        with Vertical(classes="dialog"):
            yield Static(plain(self._question), markup=False, classes="question")
            if self._many:
                yield Input(placeholder="type to find", id="answer")
            yield Choices(markup=False)
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Put the cursor on what is chosen now."""
        self.query_one(Input if self._many else Choices).focus()
        self._list()
        # The list knows only once it is laid out what it can show.
        self.call_after_refresh(self.query_one(Choices).scroll_to_highlight)

    def _list(self) -> None:
        """List the choices that fit."""
        width = max((len(value) for value, _ in self._choices), default=0) + 2
        options = self.query_one(Choices)
        options.clear_options()
        options.add_options(
            Option(Text.assemble((plain(value).ljust(width), "bold"), plain(words)))
            for value, words in self._fitting
        )
        values = [value for value, _ in self._fitting]
        options.highlighted = values.index(self._chosen) if self._chosen in values else 0

    def on_input_changed(self, event: Input.Changed) -> None:
        """Leave the choices that hold what was typed."""
        typed = event.value.casefold()
        self._fitting = [one for one in self._choices if typed in " ".join(one).casefold()]
        self._list()

    def on_input_submitted(self) -> None:
        """Take the choice under the cursor."""
        self.query_one(Choices).action_select()

    def action_move(self, way: str) -> None:
        """Move the cursor among the choices while something is typed."""
        options = self.query_one(Choices)
        ways: dict[str, Callable[[], None]] = {
            "up": options.action_cursor_up,
            "down": options.action_cursor_down,
            "page_up": options.action_page_up,
            "page_down": options.action_page_down,
        }
        ways[way]()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Answer with what was chosen by enter or the mouse."""
        self.dismiss(self._fitting[event.option_index][0])


MANY = 40
"""With more choices than this one can be typed for."""


class AskScreen(ModalScreen[str | None]):
    """Asks for a line of text; answers it, or None when it was left.

    `refuses` says in words why a text cannot be taken, or returns nothing.
    """

    BINDINGS: ClassVar = [
        Binding("enter", "take", "Take it"),
        Binding("escape", "dismiss(None)", "Back"),
    ]

    def __init__(
        self, question: str, text: str, refuses: Callable[[str], str] = lambda text: ""
    ) -> None:
        super().__init__()
        self._question, self._text, self._refuses = question, text, refuses

    def compose(self) -> ComposeResult:
        """Lay out the question, the field and the place for a refusal."""
        with Vertical(classes="dialog"):
            yield Static(plain(self._question), markup=False, classes="question")
            yield Input(self._text, id="answer", select_on_focus=False)
            yield Static("", id="refusal", markup=False)
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Type at once."""
        self.query_one(Input).focus()

    def action_take(self) -> None:
        """Answer with the text, unless it cannot be taken."""
        text = self.query_one(Input).value.strip()
        refusal = self._refuses(text) if text else "Type something, or press escape."
        if refusal:
            self.query_one("#refusal", Static).update(Text(plain(refusal)))
        else:
            self.dismiss(text)

    def on_input_submitted(self) -> None:
        """Answer with what was typed."""
        self.action_take()
