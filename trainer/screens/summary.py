"""What a session came to, after its end, with the place it was saved at."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer, Static

from trainer.report import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult


class SummaryScreen(Screen[None]):
    """The summary in words."""

    HELP = "# Summary\n\nWhat was played, by the numbers. Minus is early."
    BINDINGS: ClassVar = [
        Binding("q,escape,enter", "close", "Close", key_display="q", id="close"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(
        self, title: str, lines: Sequence[str], path: str | None, *, leaves: str = "app"
    ) -> None:
        super().__init__()
        self._leaves = leaves
        self._heading = plain(title)
        self._told = [plain(line) for line in lines]
        self._saved = f"saved: {plain(path)}" if path else "nothing was saved"

    def compose(self) -> ComposeResult:
        """Lay out the heading, the lines and the path."""
        with VerticalScroll(id="summary"):
            yield Static(self._heading, markup=False, classes="heading")
            yield Static("\n".join(self._told), markup=False)
            yield Static(self._saved, markup=False, classes="saved")
        yield Footer(show_command_palette=False)

    async def action_close(self) -> None:
        """Go back to the screen before, or end the app after a session."""
        if self._leaves == "back":
            self.app.pop_screen()
        else:
            await self.run_action("app.quit")
