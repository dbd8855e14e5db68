"""Choosing patterns for a printed page, on the screen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.sheet import ENDINGS, write
from trainer.pattern import files
from trainer.plain_file import expanded
from trainer.screens.page import Act, Ask, Page, Part

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.screens.page import Progress

GUIDE = (
    "Enter puts the pattern under the cursor on the page, or takes it off again; p writes the "
    "page, in the order in which they were chosen, and says where. Its ending says what it "
    "becomes: .pdf, .svg, .html or .musicxml. The MusicXML beside it opens in any notation program."
)


def page(_port: str) -> Page:
    """Return the page that lists all patterns; what is chosen lasts as long as it is open."""
    chosen: list[str] = []

    def tell(_progress: Progress) -> Iterator[Part]:
        for one in files.catalogue():
            if not one.fault:
                place = f"{chosen.index(one.name) + 1:>2}" if one.name in chosen else " ·"
                yield Part(f"{place}  {one.title}", name=one.name)

    def put(name: str) -> None:
        chosen.remove(name) if name in chosen else chosen.append(name)

    def where(under: str) -> Ask:
        name = (chosen or [under])[0]
        return Ask("Write the page to which file?", f"{name}.pdf", _refused)

    def print_it(under: str, file: str) -> str:
        patterns = [files.load(name) for name in chosen or [under]]
        return "\n".join(f"written: {path.absolute()}" for path in write(patterns, expanded(file)))

    return Page(
        "Print patterns for the music stand",
        GUIDE,
        "trainer sheet PATTERN ... -o FILE",
        tell,
        (
            Act("enter", "Put on the page", "Put the pattern on the page, or take it off", put),
            Act("p", "Print", "Write the page into a file", print_it, (where,)),
        ),
    )


def _refused(file: str) -> str:
    if Path(file).suffix.lower() in ENDINGS:
        return ""
    return "End its name in .pdf, .svg, .html or .musicxml."
