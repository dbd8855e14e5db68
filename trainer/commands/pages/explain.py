"""What words and numbers mean, with a search, on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import settings
from trainer.show.explanations import (
    YOURS,
    explanations,
    figure_lines,
    ground_paragraphs,
    limit_lines,
)
from trainer.show.page import Page, PageAct, PagePart, TextQuestion

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.show.page import ReportProgress

GUIDE = (
    "Every word that the screens print: what it is, what is normal, what to do. Below are the "
    "keys of files and JSON. / finds a word. c shows what counts as clean, and why."
)


def page(_port: str) -> Page:
    """Return the page of all words and numbers."""
    return _holding("")


def _holding(word: str) -> Page:
    """Return the page of what has a word in its name or sentence."""

    def tell(_progress: ReportProgress) -> Iterator[PagePart]:
        found = [
            PagePart(key, (f"  {sentence}",), key)
            for key, sentence in explanations(None).items()
            if word.casefold() in f"{key} {sentence}".casefold()
        ]
        return iter(found or [PagePart(f"Nothing here about “{word}”.")])

    return Page(
        f"Words and numbers: “{word}”" if word else "Words and numbers",
        GUIDE,
        "trainer explain",
        tell,
        (
            PageAct("slash", "Find", "Find a word", lambda _, word: _holding(word), (_word,)),
            PageAct("c", "Clean?", "What counts as clean, and why", lambda _: _clean()),
        ),
    )


def _word(_name: str) -> TextQuestion:
    return TextQuestion("Find")


def _clean() -> Page:
    def tell(_progress: ReportProgress) -> Iterator[PagePart]:
        levels = settings.strictness_levels(YOURS)
        first, *limits = limit_lines(levels)
        yield PagePart(first, tuple(limits))
        yield from (PagePart(one) for one in ground_paragraphs())
        yield PagePart("Figures in settings.toml", tuple(figure_lines(levels)))

    return Page(
        "What counts as clean",
        "The limits in ms, the grounds of each, and the figures. Change single figures in "
        "settings.toml, under [clean].",
        "trainer explain clean",
        tell,
    )
