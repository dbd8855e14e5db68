"""A widget of inked lines that redraws only the characters that changed, and a few lines of words.

At twenty strokes a second a whole repaint costs several times what the changed cells cost, so the
play screen is made of these and nothing else. A canvas has no border, padding or links: its rows go
to the compositor as they are kept, past Textual's own styling of lines, which is half the cost.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.color import Color
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from trainer.show.ink import INKS, fit_line, line_text, line_width, text_width

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from typing import Any, ClassVar

    from rich.style import Style
    from textual.filter import LineFilter
    from textual.screen import Screen

    from trainer.show.ink import Line


class Canvas(Widget):
    """Shows lines made by `compose_lines`; call `redraw` when what they show has changed."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"ink--{ink}" for ink in INKS}

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._drawn: list[Line] = []
        self._lines: dict[int, Line] = {}
        self._strips: dict[int, Strip] = {}
        self._styles: dict[str, Style] = {}
        self._filters: tuple[LineFilter, ...] = ()
        self._background = Color(0, 0, 0)
        self._window = Size(0, 0)

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the lines to show in a window of `columns` by `rows` characters."""
        raise NotImplementedError

    def redraw(self) -> None:
        """Draw again and repaint what differs from what is on the terminal."""
        if stale := self.draw_again():
            self.refresh(*stale)

    def draw_again(self) -> list[Region]:
        """Draw again and return where it differs from what is on the terminal."""
        columns, rows = self._window
        drawn = [*self.draw_lines(columns, rows)[:rows]]
        drawn += [()] * (rows - len(drawn))
        stale: list[Region] = []
        for y, (old, line) in enumerate(zip_longest(self._drawn, drawn)):
            # Rows that a widget did not draw again are the same objects: that is the fast way out.
            if old is not line and old != line and line is not None:
                stale += self._replace(y, fit_line(line, columns))
        self._drawn = drawn
        return stale

    def _replace(self, y: int, line: Line) -> list[Region]:
        """Put a line in its place and return where its characters differ."""
        old = self._lines.get(y)
        self._lines[y] = line
        if old == line:
            return []
        self._strips.pop(y, None)
        first, last = changed_spans(old or (), line)
        return [Region(first, y, last - first, 1)]

    def on_resize(self) -> None:
        """Draw for the new size."""
        self._window = self.size
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
        self._filters = ()

    def render_lines(self, crop: Region) -> list[Strip]:
        """Return some rows for the terminal, those that have not changed as they were."""
        filters = tuple(self.get_line_filters())
        if filters != self._filters:
            self._filters = filters
            self._background = self.background_colors[1]
            self._strips.clear()
        strips = [self._strips.get(y) or self.render_line(y) for y in crop.line_range]
        first, last = crop.column_span
        whole = (first, last) == (0, self._window.width)
        return strips if whole else [strip.crop(first, last) for strip in strips]

    def render_line(self, y: int) -> Strip:
        """Make one row for the terminal, in the colours it can show, and keep it."""
        line = self._lines.get(y) or fit_line((), self._window.width)
        strip = Strip([Segment(part, self._style(ink)) for part, ink in line], line_width(line))
        for one in self._filters:
            strip = strip.apply_filter(one, self._background)
        self._strips[y] = strip
        return strip

    def _style(self, ink: str) -> Style:
        style = self._styles.get(ink)
        if style is None:
            style = self._styles[ink] = self.get_component_rich_style(f"ink--{ink}")
        return style

    def plain_text(self) -> str:
        """Return what is shown, without inks, for tests and for reading aloud."""
        return "\n".join(line_text(line).rstrip() for line in self._drawn)


def redraw_together(screen: Screen[Any], canvases: Iterable[Canvas]) -> None:
    """Redraw several canvases of a screen as one, and write it to the terminal at once.

    Textual writes what is refreshed at the next tick of a clock of its own, 60 times a second, and
    asks every widget on the way: a stroke is seen up to two ticks late. Where its screen has more
    to do than these canvases, it is left to it.
    """
    stale: list[Region] = []
    for canvas in canvases:
        if found := canvas.draw_again():
            offset = canvas.region.offset
            stale += [region.translate(offset) for region in found]
    if not stale:
        return
    waits = screen._layout_required or screen._repaint_required or screen.app._batch_count
    if waits or not screen.is_current:
        screen.refresh(*stale)
    else:
        screen._compositor._dirty_regions.update(stale)
        screen._compositor_refresh()


class Ground:
    """For a screen or container that is blank itself: only what is on it is ever drawn again."""

    _blank: tuple[object, Strip] | None = None

    def notify_style_update(self) -> None:
        """Forget the blank row when the theme changes."""
        super().notify_style_update()  # type: ignore[misc]
        self._blank = None

    def render_lines(self: Any, crop: Region) -> list[Strip]:
        """Return blank rows."""
        made_for = (crop.width, tuple(self.get_line_filters()))
        if self._blank is None or self._blank[0] != made_for:
            strip = Strip.blank(crop.width, self.visual_style.rich_style)
            for one in made_for[1]:
                strip = strip.apply_filter(one, self.background_colors[1])
            self._blank = (made_for, strip)
        return [self._blank[1]] * crop.height


def changed_spans(old: Line, new: Line) -> tuple[int, int]:
    """Return the first column that differs between two lines and the one after the last."""
    total = line_width(new)
    if line_width(old) != total:
        return 0, max(line_width(old), total)
    before = _same(old, new)
    after = _same(old[::-1], new[::-1])
    return min(before, total - 1), max(total - after, before + 1)


def _same(one: Line, other: Line) -> int:
    """Return how many columns two lines share at their beginning, span by span."""
    count = 0
    for left, right in zip(one, other, strict=False):
        if left != right:
            break
        count += text_width(left[0])
    return count


class FittedLines(Canvas):
    """Shows the lines that a function returns for a width and a height."""

    def __init__(
        self, says: Callable[[int, int], Sequence[Line]], *, id: str | None = None
    ) -> None:
        super().__init__(id=id)
        self._says = says

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the lines for this window."""
        return self._says(columns, rows)


class Lines(FittedLines):
    """Shows the lines that a function returns for a width, whatever the height."""

    def __init__(self, says: Callable[[int], Sequence[Line]], *, id: str | None = None) -> None:
        super().__init__(lambda columns, _rows: says(columns), id=id)
