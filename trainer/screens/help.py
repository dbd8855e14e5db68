"""The help of a screen: what it shows, what its signs mean, and every key.

It lies over the screen as a whole sheet, so that nothing below is squeezed; playing goes on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Footer, Static

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from textual.app import ComposeResult
    from textual.screen import Screen

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
"""Keys whose name in code is not what stands on the key."""


class HelpScreen(ModalScreen[None]):
    """A sheet of help, closed with the key that opened it."""

    BINDINGS: ClassVar = [
        Binding("question_mark,f1,escape,q,enter", "dismiss", "Back", key_display="?"),
    ]

    def __init__(
        self, guide: str, signs: Sequence[tuple[str, str]], keys: Sequence[tuple[str, str]]
    ) -> None:
        super().__init__()
        self._guide = guide
        self._signs = signs
        self._keys = keys

    def compose(self) -> ComposeResult:
        """Lay out the guide, the signs and the keys."""
        with VerticalScroll(id="help"):
            yield Static(self._guide, markup=False, classes="guide")
            if self._signs:
                yield Static(table(self._signs), markup=False, classes="guide")
            yield Static(table(self._keys), markup=False)
        yield Footer(show_command_palette=False)


def help_of(screen: Screen[object]) -> HelpScreen:
    """Return the help of a screen: its GUIDE, its SIGNS and its bindings."""
    guide = str(getattr(screen, "GUIDE", ""))
    signs: Sequence[tuple[str, str]] = getattr(screen, "SIGNS", ())
    return HelpScreen(guide, signs, keys_of(type(screen).BINDINGS))


def keys_of(bindings: Iterable[object]) -> list[tuple[str, str]]:
    """Return each binding as the keys to press and what they do."""
    told = []
    for one in bindings:
        if isinstance(one, Binding):
            told.append((key_names(one), one.tooltip or one.description))
    return [*told, ("ctrl+p", "All commands, looks, and saving a picture")]


def key_names(binding: Binding) -> str:
    """Return the keys of a binding as they stand on a keyboard."""
    return " ".join(KEY_NAMES.get(key, key) for key in binding.key.split(","))


def table(rows: Sequence[tuple[str, str]]) -> Text:
    """Return rows with their first column aligned."""
    width = max(len(first) for first, _ in rows) + 2
    text = Text()
    for first, second in rows:
        text.append(first.ljust(width), "bold")
        text.append(second + "\n")
    return text
