"""A widget of inked lines that redraws only the characters that changed.

At twenty strokes a second a whole repaint costs several times what the changed cells cost, so the
play screen is made of these and nothing else.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from trainer.screens.ink import INKS, fit, text, width

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import ClassVar

    from rich.style import Style

    from trainer.screens.ink import Line


class Canvas(Widget):
    """Shows lines made by `compose_lines`; call `redraw` when what they tell has changed."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"ink--{ink}" for ink in INKS}

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._drawn: list[Line] = []
        self._lines: dict[int, Line] = {}
        self._strips: dict[int, Strip] = {}
        self._styles: dict[str, Style] = {}

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the lines to show in a window of `columns` by `rows` characters."""
        raise NotImplementedError

    def redraw(self) -> None:
        """Draw again and repaint what differs from what is on the terminal."""
        columns, rows = self.size
        drawn = [*self.draw_lines(columns, rows)[:rows]]
        drawn += [()] * (rows - len(drawn))
        for y, (old, line) in enumerate(zip_longest(self._drawn, drawn)):
            # Rows that a widget did not draw anew are the same objects: that is the fast way out.
            if old is not line and old != line and line is not None:
                self._replace(y, fit(line, columns))
        self._drawn = drawn

    def _replace(self, y: int, line: Line) -> None:
        """Put a line in its place and repaint the characters that differ."""
        old = self._lines.get(y)
        self._lines[y] = line
        if old != line:
            self._strips.pop(y, None)
            first, last = changed(old or (), line)
            self.refresh(Region(first, y, last - first, 1))

    def on_resize(self) -> None:
        """Draw for the new size."""
        self._drawn = []
        self._lines.clear()
        self._strips.clear()
        self.redraw()
        self.refresh()

    def notify_style_update(self) -> None:
        """Forget the styles when the theme changes."""
        super().notify_style_update()
        self._styles.clear()
        self._strips.clear()

    def render_line(self, y: int) -> Strip:
        """Return one row for the terminal."""
        strip = self._strips.get(y)
        if strip is None:
            line = self._lines.get(y) or fit((), self.size.width)
            segments = [Segment(part, self._style(ink)) for part, ink in line]
            strip = self._strips[y] = Strip(segments, width(line))
        return strip

    def _style(self, ink: str) -> Style:
        style = self._styles.get(ink)
        if style is None:
            style = self._styles[ink] = self.get_component_rich_style(f"ink--{ink}")
        return style

    def plain_text(self) -> str:
        """Return what is shown, without inks, for tests and for reading aloud."""
        return "\n".join(text(line).rstrip() for line in self._drawn)


def changed(old: Line, new: Line) -> tuple[int, int]:
    """Return the first column that differs between two lines and the one after the last."""
    total = width(new)
    if width(old) != total:
        return 0, max(width(old), total)
    before = _same(old, new)
    after = _same(old[::-1], new[::-1])
    return min(before, total - 1), max(total - after, before + 1)


def _same(one: Line, other: Line) -> int:
    """Return how many characters two lines share at their beginning, span by span."""
    count = 0
    for left, right in zip(one, other, strict=False):
        if left != right:
            break
        count += len(left[0])
    return count
