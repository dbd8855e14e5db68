"""A screen drawn the plain way: every frame a whole grid of styled cells through Static.update.

Run as a program it draws for the seconds given: `busy_screen.py SECONDS`.
"""

import sys

from rich.text import Text
from textual.app import App, ComposeResult
from textual.widgets import Static

ROWS, STEPS, SPAN = 16, 64, 4


class BusyScreen(App[None]):
    """Redraws a grid of 256 styled spans for some seconds, `rate` times a second."""

    def __init__(self, seconds: float, rate: float = 60.0) -> None:
        super().__init__()
        self.seconds, self.rate, self.frame = seconds, rate, 0

    def compose(self) -> ComposeResult:
        """One label that holds the grid."""
        yield Static(id="grid")

    def on_mount(self) -> None:
        """Start drawing, and end by itself."""
        self.set_interval(1 / self.rate, self.draw)
        self.set_timer(self.seconds, self.exit)

    def draw(self) -> None:
        """Draw all cells again."""
        self.frame += 1
        text = Text()
        for row in range(ROWS):
            for span in range(STEPS // SPAN):
                shade = (self.frame * 7 + row * 16 + span * 5) % 200 + 50
                text.append("#" * SPAN, style=f"rgb({shade},80,{255 - shade})")
            text.append("\n")
        self.query_one("#grid", Static).update(text)


if __name__ == "__main__":
    BusyScreen(float(sys.argv[1])).run()
