"""Choosing patterns for a printed page, on the screen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.sheet import ENDINGS, write
from trainer.file_system import expand_home
from trainer.pattern import library
from trainer.show.page import Page, PageAct, PagePart, TextQuestion

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.show.page import ReportProgress

GUIDE = (
    "Enter puts the pattern under the cursor on the page, or takes it off again; p writes the "
    "page, in the order in which they were chosen, and says where. Its ending says what it "
    "becomes: .pdf, .svg, .html or .musicxml. The MusicXML beside it opens in any notation program."
)


def page(_port: str) -> Page:
    """Return the page that lists all patterns; what is chosen lasts as long as it is open."""
    chosen: list[str] = []

    def tell(_progress: ReportProgress) -> Iterator[PagePart]:
        for one in library.catalogue():
            if not one.fault:
                place = f"{chosen.index(one.name) + 1:>2}" if one.name in chosen else " ·"
                yield PagePart(f"{place}  {one.title}", name=one.name)

    def put(name: str) -> None:
        chosen.remove(name) if name in chosen else chosen.append(name)

    def where(under: str) -> TextQuestion:
        name = (chosen or [under])[0]
        return TextQuestion("Write the page to which file?", f"{name}.pdf", _refused)

    def print_it(under: str, file: str) -> str:
        patterns = [library.load_pattern(name) for name in chosen or [under]]
        return "\n".join(
            f"written: {path.absolute()}" for path in write(patterns, expand_home(file))
        )

    return Page(
        "Print patterns for the music stand",
        GUIDE,
        "trainer sheet PATTERN ... -o FILE",
        tell,
        (
            PageAct("enter", "Put on the page", "Put the pattern on the page, or take it off", put),
            PageAct("p", "Print", "Write the page into a file", print_it, (where,)),
        ),
    )


def _refused(file: str) -> str:
    if Path(file).suffix.lower() in ENDINGS:
        return ""
    return "End its name in .pdf, .svg, .html or .musicxml."
