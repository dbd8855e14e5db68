"""One line of words that is drawn again only when it changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.screens.ink import Line


class WordsLine(Canvas):
    """Shows the line that a function returns."""

    def __init__(self, says: Callable[[], Line], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._says = says

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the one line."""
        return [self._says()]
