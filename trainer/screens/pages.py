"""Opens what home names: a screen, or the page of a command; and the pages that explain numbers.

A page puts a command's own words into parts and adds what the player may do with them. `port` is
what is played on, for acts that play.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

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
    "student": "pages_students",
    "timing": "pages_kit",
    "tonight": "pages_tonight",
    "way": "pages_patterns",
}
"""The commands with a page, and the file that has its function, `NAME_page(port)`."""

EXPLAIN_GUIDE = (
    "Every word that the screens print: what it is, what is normal, what to do. Below are the "
    "keys of files and JSON. / finds a word. c shows what counts as clean, and why."
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
    """Return the page of all words and numbers."""
    return _holding("")


def _holding(word: str) -> Page:
    """Return the page of what has a word in its name or sentence."""

    def make(_progress: ReportProgress) -> Iterator[PagePart]:
        found = [
            PagePart(key, (f"  {sentence}",), key)
            for key, sentence in explanations(None).items()
            if word.casefold() in f"{key} {sentence}".casefold()
        ]
        return iter(found or [PagePart(f"Nothing here about “{word}”.")])

    return Page(
        f"Words and numbers: “{word}”" if word else "Words and numbers",
        EXPLAIN_GUIDE,
        "trainer explain",
        make,
        (
            PageAct("slash", "Find", "Find a word", lambda _, word: _holding(word), (_word,)),
            PageAct("c", "Clean?", "What counts as clean, and why", lambda _: _clean()),
        ),
    )


def _word(_name: str) -> TextQuestion:
    return TextQuestion("Find")


def _clean() -> Page:
    def make(_progress: ReportProgress) -> Iterator[PagePart]:
        levels = settings.strictness_levels(YOURS)
        first, *limits = limit_lines(levels)
        yield PagePart(first, tuple(limits))
        yield from (PagePart(one) for one in ground_paragraphs())
        yield PagePart("Figures in settings.toml", tuple(figure_lines(levels)))

    return Page("What counts as clean", CLEAN_GUIDE, "trainer explain clean", make)
