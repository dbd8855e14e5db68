"""A few lines of words that are drawn again only where they changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.screens.ink import Line


class Lines(Canvas):
    """Shows the lines that a function returns for a width."""

    def __init__(self, says: Callable[[int], Sequence[Line]], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._says = says

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the lines."""
        return self._says(columns)
