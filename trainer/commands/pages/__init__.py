"""The screens of commands whose answer is words: one file a command, with `page(port) -> Page`.

Each puts the command's own words into parts and adds what the player may do with them. `port` is
what is played on, for acts that play.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.show.page import Page

NAMES = (
    *("advice", "compare", "explain", "goal", "ports"),
    *("routine", "score", "sheet", "timing"),
)


def page_of(name: str, port: str) -> Page:
    """Return the page of a command; only its own file is loaded."""
    page: Page = import_module(f"trainer.commands.pages.{name}").page(port)
    return page
