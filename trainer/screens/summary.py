"""What a session came to, after its end, with the place it was saved at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer, Static

from trainer.report import plain
from trainer.screens import saving

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from textual.app import ComposeResult


class SummaryScreen(Screen[None]):
    """The summary in words."""

    GUIDE = (
        "What was played, by the numbers: counts first, then time, then where it went wrong. "
        "Spread is how much the strokes varied around their own average. The file named on top "
        "holds every stroke; “trainer replay” goes through it again."
    )
    PADS: ClassVar = {"next": "enter", "restart": ""}
    BINDINGS: ClassVar = [
        saving.PICTURE,
        Binding("q,escape,enter", "close", "Close", key_display="q", id="close"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(
        self,
        title: str,
        lines: Sequence[str],
        path: str | None,
        *,
        leaves: str = "app",
        summary: Mapping[str, Any] | None = None,
        pictures: Path | None = None,
    ) -> None:
        """Show lines; `pictures` is where a picture of them goes, without its ending."""
        super().__init__()
        self._summary, self._pictures = summary, pictures
        self._leaves = leaves
        self._heading = plain(title)
        self._told = [plain(line) for line in lines]
        self._saved = f"Saved: {plain(path)}" if path else "Nothing was saved."

    def compose(self) -> ComposeResult:
        """Lay out the heading, the path and the lines."""
        with VerticalScroll(id="summary"):
            yield Static(self._heading, markup=False, classes="heading")
            yield Static(self._saved, markup=False, classes="saved")
            for line in self._told:
                yield Static(spread_out(line), markup=False, classes="told")
        yield Footer(show_command_palette=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer the picture only where there is a place for it."""
        del parameters
        return action != "picture" or self._pictures is not None

    def action_picture(self) -> None:
        """Save the summary as a picture beside the session."""
        from trainer.archive.summary_picture import summary

        if self._pictures is not None:
            path = self._pictures.with_name(f"{self._pictures.name}-summary.svg")
            sheet = summary(self._heading, self._told, self._summary)
            saving.save(self, path, lambda: sheet)

    async def action_close(self) -> None:
        """Go back to the screen before, or end the app after a session."""
        if self._leaves == "back":
            self.app.pop_screen()
        else:
            await self.run_action("app.quit")


def spread_out(line: str) -> Text:
    """Return a line with its label stressed, and a long list of parts one below the other."""
    label, colon, rest = line.partition(": ")
    if not colon or len(label) > LONGEST_LABEL:
        return Text(line)
    parts = rest.split("; ")
    joined = "\n  ".join(["", *parts]) if len(parts) > FEW else f" {rest}"
    return Text.assemble((label + ":", "bold"), joined)


LONGEST_LABEL = 24
FEW = 2
