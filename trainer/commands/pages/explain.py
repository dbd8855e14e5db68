"""What the numbers of a reading mean, with a search, on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.commands.explain import clean_lines
from trainer.show.page import Page, PageAct, PagePart, TextQuestion
from trainer.show.reading_keys import KEY_EXPLANATIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.show.page import ReportProgress

GUIDE = (
    "Every number that a summary holds, by its name in the files and in --json, in a sentence. "
    "/ finds those whose name or sentence holds a word: flam, spread, power. c tells what counts "
    "as clean, and on what grounds."
)


def page(_port: str) -> Page:
    """Return the page of all numbers."""
    return _holding("")


def _holding(word: str) -> Page:
    """Return the page of the numbers whose name or sentence holds a word."""

    def tell(_progress: ReportProgress) -> Iterator[PagePart]:
        found = [
            PagePart(key, (f"  {sentence}",), key)
            for key, sentence in KEY_EXPLANATIONS.items()
            if word.casefold() in f"{key} {sentence}".casefold()
        ]
        return iter(found or [PagePart(f"No number of a reading speaks of “{word}”.")])

    return Page(
        f"What the numbers mean: “{word}”" if word else "What the numbers mean",
        GUIDE,
        "trainer explain",
        tell,
        (
            PageAct(
                "slash", "Find", "Find numbers by a word", lambda _, word: _holding(word), (_word,)
            ),
            PageAct("c", "Clean?", "What counts as clean, and why", lambda _: _clean()),
        ),
    )


def _word(_name: str) -> TextQuestion:
    return TextQuestion("Find the numbers that speak of")


def _clean() -> Page:
    def tell(_progress: ReportProgress) -> Iterator[PagePart]:
        grounds, *table = "\n".join(clean_lines()).rsplit("\n\n", 1)
        for paragraph in grounds.split("\n\n"):
            # Broken for a terminal of 80 columns; the screen breaks it for its own.
            first, *listed = " ".join(paragraph.split()).split(" - ")
            yield (
                PagePart(first, tuple(f"- {one}" for one in listed)) if listed else PagePart(first)
            )
        yield from (PagePart(one) for one in table)

    return Page(
        "What counts as clean",
        "The grounds of each figure, and the figures of each level. Single ones are changed in "
        "settings.toml, under [clean].",
        "trainer explain clean",
        tell,
    )
