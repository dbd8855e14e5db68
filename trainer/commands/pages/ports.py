"""What is connected, on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.commands.pages import timing
from trainer.commands.ports import lines
from trainer.show.page import Page, PageAct, paragraphs

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.show.page import PagePart, ReportProgress

GUIDE = (
    "The MIDI inputs and outputs that this machine has now. Home lets you choose an input with c. "
    "f5 looks again; t measures how far the times on this machine can be trusted."
)


def page(port: str) -> Page:
    """Return the page of the ports."""
    return Page(
        "What is connected",
        GUIDE,
        "trainer ports",
        _tell,
        (
            PageAct("enter", "Look again", "Look again what is connected", lambda _: None),
            PageAct(
                "t", "Timing", "How far times can be trusted here", lambda _: timing.page(port)
            ),
        ),
    )


def _tell(_progress: ReportProgress) -> Iterator[PagePart]:
    from trainer.midi import ports

    return paragraphs(lines(ports.system()))
