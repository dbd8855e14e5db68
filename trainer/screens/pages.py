"""Opens what home names: a screen, or the page of a command; and the pages that explain numbers.

A page puts a command's own words into parts and adds what the player may do with them. `port` is
what is played on, for acts that play.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from trainer import settings
from trainer.show.glossary import YOURS, clean_lines
from trainer.show.page import Page, PageAct, PagePart, TextQuestion
from trainer.show.reading_keys import KEY_EXPLANATIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.app import App

    from trainer.show.page import ReportProgress

PAGES = {
    "advice": "pages_sessions",
    "assess": "pages_sessions",
    "compare": "pages_sessions",
    "explain": "pages",
    "goal": "pages_patterns",
    "ports": "pages_kit",
    "routine": "pages_patterns",
    "sheet": "pages_patterns",
    "timing": "pages_kit",
}
"""The commands with a page, and the file that has its function, `NAME_page(port)`."""

EXPLAIN_GUIDE = (
    "Every number that a summary holds, by its name in the files and in --json, in a sentence. "
    "/ finds those whose name or sentence holds a word: flam, spread, power. c shows what counts "
    "as clean, and on what grounds."
)
CLEAN_GUIDE = (
    "The grounds of each figure, and the figures of each level. Single ones are changed in "
    "settings.toml, under [clean]."
)


def page_of(name: str, port: str) -> Page:
    """Return the page of a command; only its own file is loaded."""
    module = import_module(f"trainer.screens.{PAGES[name]}")
    page: Page = getattr(module, f"{name}_page")(port)
    return page


def open_screen(app: App[Any], name: str, port: str) -> None:
    """Open a screen or a page by its name, for what is played on; `port` of a tab is its pattern.

    Only its own files are loaded.
    """
    from trainer.screens.page_screen import open_page

    match name:
        case "replay":
            from trainer.actions.replay import ReplayRequest
            from trainer.screens.replay import open_replay

            open_replay(app, ReplayRequest(settings.existing_recordings_folder()))
        case "history":
            from trainer.actions.history import HistoryRequest
            from trainer.screens.history import open_history

            open_history(app, HistoryRequest(settings.existing_recordings_folder()))
        case "patterns":
            from trainer.screens.patterns import open_patterns

            open_patterns(app, port=port)
        case "kit":
            from trainer.screens.kit import open_kits

            open_kits(app, settings.load().kit)
        case "tab":
            from trainer.screens.pages_patterns import tab_page

            open_page(app, tab_page(port))
        case _:
            open_page(app, page_of(name, port))


def explain_page(_port: str) -> Page:
    """Return the page of all numbers."""
    return _holding("")


def _holding(word: str) -> Page:
    """Return the page of the numbers whose name or sentence holds a word."""

    def make(_progress: ReportProgress) -> Iterator[PagePart]:
        found = [
            PagePart(key, (f"  {sentence}",), key)
            for key, sentence in KEY_EXPLANATIONS.items()
            if word.casefold() in f"{key} {sentence}".casefold()
        ]
        return iter(found or [PagePart(f"No number of a reading speaks of “{word}”.")])

    return Page(
        f"What the numbers mean: “{word}”" if word else "What the numbers mean",
        EXPLAIN_GUIDE,
        "trainer explain",
        make,
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
    def make(_progress: ReportProgress) -> Iterator[PagePart]:
        lines = clean_lines(settings.strictness_levels(YOURS))
        grounds, *table = "\n".join(lines).rsplit("\n\n", 1)
        for paragraph in grounds.split("\n\n"):
            # Broken for a terminal of 80 columns; the screen breaks it for its own.
            first, *listed = " ".join(paragraph.split()).split(" - ")
            yield (
                PagePart(first, tuple(f"- {one}" for one in listed)) if listed else PagePart(first)
            )
        yield from (PagePart(one) for one in table)

    return Page("What counts as clean", CLEAN_GUIDE, "trainer explain clean", make)
