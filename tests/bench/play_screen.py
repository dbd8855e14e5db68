"""The live screen fed from a connection: `play_screen.py FD WAY`; the way is lean, plain or bare.

`plain` shows the same grid the plain way, whole through Static.update thirty times a second;
`bare` has no screen.
Events come as pickled lists over the connection.
"""

import sys
import threading
from multiprocessing.connection import Connection

from rich.text import Text
from stage import live_app, pattern
from textual.widgets import Static

from trainer.screens.widgets.bar_grid import BarGrid


class Fed:
    """The screen's end of the connection."""

    def __init__(self, fd: int) -> None:
        self.connection = Connection(fd)
        self.fileno = self.connection.fileno

    def poll(self):
        reported = []
        while self.connection.poll():
            reported += self.connection.recv()
        return reported

    def send(self, command) -> None:
        pass

    def close(self) -> None:
        pass


def redraw_whole(self) -> None:
    """Draw the grid as one text and hand it to the label that lies over it."""
    text = Text()
    for line in self.draw_lines(*self.size):
        for part, ink in line:
            text.append(part, self._style(ink))
        text.append("\n")
    self.screen.query_one("#plain", Static).update(text)


def plain_way(app) -> None:
    """Replace the grid's way of drawing by whole updates at thirty frames a second."""
    grid = app.screen.query_one(BarGrid)
    label = Static(id="plain", markup=False)
    label.styles.height = grid.size.height
    grid.parent.mount(label, before=grid)
    BarGrid.redraw = lambda self: None
    BarGrid.draw_again = lambda self: []
    grid.set_interval(1 / 30, lambda: redraw_whole(grid))


def bare(connection) -> None:
    """Write each offset as it comes, with no screen: the floor of this machine at this moment."""
    print("Restart", flush=True)
    while True:
        for event in connection.recv():
            if hasattr(event, "offset_s"):
                print(f" {round(event.offset_s * 1000)} ms", flush=True)


def main() -> None:
    """Run the live screen until it is stopped."""
    if sys.argv[2] == "bare":
        bare(Connection(int(sys.argv[1])))
    app = live_app(pattern(("snare", "tom1", "tom2", "floor")), Fed(int(sys.argv[1])))
    if sys.argv[2] == "plain":
        threading.Timer(1.0, lambda: app.call_from_thread(plain_way, app)).start()
    app.run()


if __name__ == "__main__":
    main()
