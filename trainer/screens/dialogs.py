"""Small screens over or before another one: a choice, a line of text, a wait, and the help.

The wait is there at once and answers its keys; whoever does the work says how far it is. The help
covers the whole screen, so that nothing below is squeezed; while something is played, it pauses.
"""

from __future__ import annotations

import time
from textwrap import wrap
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from trainer.console import printable
from trainer.screens.common import KeyLine
from trainer.screens.widgets.canvas import Lines
from trainer.show.ink import padded, text_width

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from textual.app import ComposeResult

    from trainer.show.ink import Line


class Choices(OptionList):
    """What may be chosen; enter takes it."""

    BINDINGS: ClassVar = [Binding("enter", "select", "Take it")]


class Answer(Input):
    """A line to type in; enter takes it, and the footer says so."""

    BINDINGS: ClassVar = [Binding("enter", "submit", "Take it")]


class ChooseScreen(ModalScreen[str | None]):
    """Offers a choice of several; answers with its value, None when nothing was chosen.

    Each choice is its value and some words beside it. `chosen` is where the cursor begins.
    Among many, or where `typed`, what is typed leaves those that hold it. `words_alone` are shown
    without the value where that is only the name of a file.
    """

    BINDINGS: ClassVar = [
        Binding("up", "move('up')", "Up", show=False),
        Binding("down", "move('down')", "Down", show=False),
        Binding("pageup", "move('page_up')", "Page up", show=False),
        Binding("pagedown", "move('page_down')", "Page down", show=False),
        Binding("escape", "dismiss(None)", "Back"),
    ]

    def __init__(
        self,
        question: str,
        choices: Sequence[tuple[str, str]],
        chosen: str | None = None,
        *,
        typed: bool = False,
        words_alone: bool = False,
    ) -> None:
        super().__init__()
        self._words_alone = words_alone
        self._question, self._choices, self._chosen = question, choices, chosen
        self._many = typed or len(choices) > MANY
        self._fitting = [*choices]

    def compose(self) -> ComposeResult:
        """Lay out the question and the choices."""
        with Vertical(classes="dialog"):
            yield Static(printable(self._question), markup=False, classes="question")
            if self._many:
                yield Answer(placeholder="type to find", id="answer")
            yield Choices(markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Put the cursor on what is chosen now."""
        self.query_one(Input if self._many else Choices).focus()
        self._list()
        # The list knows only once it is laid out what it can show.
        self.call_after_refresh(self.query_one(Choices).scroll_to_highlight)

    def _list(self) -> None:
        """List the choices that fit."""
        width = max((text_width(printable(value)) for value, _ in self._choices), default=0) + 2
        width *= not self._words_alone
        alone = [("", words) for _, words in self._fitting]
        shown = alone if self._words_alone else self._fitting
        options = self.query_one(Choices)
        options.clear_options()
        options.add_options(
            Option(Text.assemble((padded(printable(value), width), "bold"), printable(words)))
            for value, words in shown
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
    """Takes a line of text; answers it, or None when it was left.

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
            yield Static(printable(self._question), markup=False, classes="question")
            yield Answer(self._text, id="answer", select_on_focus=False)
            yield Static("", id="refusal", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Type at once."""
        self.query_one(Input).focus()

    def action_take(self) -> None:
        """Answer with the text, unless it cannot be taken."""
        text = self.query_one(Input).value.strip()
        refusal = self._refuses(text) if text else "Type something, or press escape."
        if refusal:
            self.query_one("#refusal", Static).update(Text(printable(refusal)))
        else:
            self.dismiss(text)

    def on_input_submitted(self) -> None:
        """Answer with what was typed."""
        self.action_take()


TICK_S = 0.25
SLOW_S = 1.0
"""After so long the seconds are shown too."""


class WaitScreen(Screen[None]):
    """What is being done."""

    GUIDE = "Something is being read or made ready. The screen you chose follows automatically."
    BINDINGS: ClassVar = [
        Binding("q,escape,ctrl+c", "app.close", "Close", key_display="q"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?"),
    ]

    def __init__(self, heading: str) -> None:
        super().__init__()
        self._heading = heading
        self._reported = ""
        self._fault = ""
        self._since = time.monotonic()

    def compose(self) -> ComposeResult:
        """Lay out the heading with what is being done, and the keys."""
        yield Lines(self._lines, id="waiting")
        yield KeyLine()

    def on_mount(self) -> None:
        """Count the seconds."""
        self._clock = self.set_interval(TICK_S, self._redraw)

    def on_screen_suspend(self) -> None:
        """Rest below the screen that came."""
        self._clock.pause()

    def say(self, reported: str) -> None:
        """Say what is being done now."""
        self._reported = reported
        self._redraw()

    def give_up(self, fault: str) -> None:
        """Say why nothing comes."""
        self._fault = fault
        self._clock.pause()
        self._redraw()

    def _redraw(self) -> None:
        for lines in self.query("#waiting").results(Lines):
            lines.redraw()

    def _lines(self, columns: int) -> Sequence[Line]:
        heading: Line = ((printable(self._heading), "strong"),)
        if self._fault:
            fault = [part for line in self._fault.splitlines() for part in wrap(line, columns)]
            return [heading, (), *(((one, "wrong"),) for one in fault)]
        passed = time.monotonic() - self._since
        seconds = f"  {passed:.0f} s" if passed >= SLOW_S else ""
        reported = f"{printable(self._reported)} …{seconds}" if self._reported else ""
        return [heading, (), ((reported, "plain"),)]


class MessageScreen(Screen[None]):
    """Something that could not be done, in lines of text."""

    GUIDE = "Something could not be done. The text says why, and what to do about it."
    PADS: ClassVar = {"next": "enter", "restart": ""}
    BINDINGS: ClassVar = [
        Binding("q,escape,enter", "app.close", "Close", key_display="q"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(self, lines: Sequence[str]) -> None:
        super().__init__()
        self._lines = [printable(line) for line in lines]

    def compose(self) -> ComposeResult:
        """Lay out the lines and the keys."""
        with VerticalScroll(id="help"):
            for line in self._lines:
                yield Static(line, markup=False, classes="guide")
        yield KeyLine()


KEY_NAMES = {
    "full_stop": ".",
    "comma": ",",
    "slash": "/",
    "plus": "+",
    "minus": "-",
    "equals_sign": "=",
    "question_mark": "?",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "up": "↑",
    "down": "↓",
    "left": "←",
    "right": "→",
    "pageup": "page up",
    "pagedown": "page down",
}
"""Keys whose name in code is not what is printed on the key."""


class HelpScreen(ModalScreen[None]):
    """A sheet of help, closed with the key that opened it."""

    BINDINGS: ClassVar = [
        Binding("question_mark,f1,escape,q,enter", "dismiss", "Back", key_display="?"),
    ]

    def __init__(
        self,
        guide: str,
        signs: Sequence[tuple[str, str]],
        keys: Sequence[tuple[str, str]],
        pads: Sequence[str] = (),
    ) -> None:
        """`pads` are the computer keys that are drums, row by row."""
        super().__init__()
        self._guide = guide
        self._pads = pads
        self._signs = signs
        self._keys = keys

    def compose(self) -> ComposeResult:
        """Lay out the guide, the signs and the keys."""
        with VerticalScroll(id="help"):
            yield Static(self._guide, markup=False, classes="guide")
            if self._pads:
                pads = ["Computer keys, as the kit looks from the stool:", *self._pads]
                yield Static("\n  ".join(pads), markup=False, classes="guide")
            if self._signs:
                yield Static(two_columns(self._signs), markup=False, classes="guide")
            yield Static(two_columns(self._keys), markup=False)
        yield KeyLine()


def help_of(screen: Screen[Any], pads: Sequence[str] = ()) -> HelpScreen:
    """Return the help of a screen: its GUIDE, its SIGNS, its bindings, and keys that are pads."""
    guide = str(getattr(screen, "GUIDE", ""))
    signs: Sequence[tuple[str, str]] = getattr(screen, "SIGNS", ())
    return HelpScreen(guide, signs, keys_of(type(screen).BINDINGS), pads)


def keys_of(bindings: Iterable[object]) -> list[tuple[str, str]]:
    """Return each binding as the keys to press and what they do."""
    reported = []
    for one in bindings:
        if isinstance(one, Binding):
            reported.append((key_names(one), one.tooltip or one.description))
    return [*reported, ("ctrl+p", "All keys by name, and the colours")]


def key_names(binding: Binding) -> str:
    """Return the keys of a binding as a keyboard names them."""
    return " ".join(KEY_NAMES.get(key, key) for key in binding.key.split(","))


def two_columns(rows: Sequence[tuple[str, str]]) -> Text:
    """Return rows with their first column aligned."""
    width = max(len(first) for first, _ in rows) + 2
    text = Text()
    for first, second in rows:
        text.append(first.ljust(width), "bold")
        text.append(second + "\n")
    return text
