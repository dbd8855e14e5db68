"""A pattern as tab on the screen, whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.pattern import description, library
from trainer.pattern.formats import tab
from trainer.show.page import Page, PagePart

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.show.page import ReportProgress

GUIDE = (
    "The pattern as drummers write tab: steps across, voices down, the sticking below. What it is "
    "comes first."
)


def tab_page(name: str) -> Page:
    """Return the page of a pattern by its name."""

    def make(_progress: ReportProgress) -> Iterator[PagePart]:
        pattern = library.load_pattern(name)
        first, *rest = description.description_lines(pattern)
        yield PagePart(first, tuple(rest))
        yield from map(PagePart, tab.to_tab(pattern))

    return Page(f"{name} as tab", GUIDE, f"trainer patterns show {name}", make)
