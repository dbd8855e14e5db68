"""Sheets for the music stand: our MusicXML engraved as SVG pages, one HTML file or a PDF.

verovio, in the optional extra `print`, engraves. Its pages are changed in two respects only. Text
that it nests several levels deep, in a music font for the note of the tempo, is written as one
plain line of text, which every program that shows SVG puts in the right place. And the sticking is
set a little lower, clear of the stems of the feet.

A PDF is made the first way the machine has: typst (in the extra `print`, a wheel for every system)
embeds the fonts and keeps the exact paper; else rsvg-convert or a Chromium that is installed. None
of them uses the network.
"""

from __future__ import annotations

import html
import os
import re
import shutil
import subprocess
from importlib.util import find_spec
from itertools import accumulate
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from trainer.errors import BadInput, Failure
from trainer.pattern.formats.musicxml_write import to_musicxml

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from trainer.pattern.model import Pattern


PAPERS = {"a4": (210, 297), "letter": (216, 279)}
"""Width and height in millimetres."""

MOST_BARS = 3_000
"""Some hundred pages: what verovio engraves in well under a minute."""

_OPTIONS = {
    "svgViewBox": True,
    "pageMarginLeft": 150,
    "pageMarginRight": 150,
    "pageMarginTop": 150,
    "pageMarginBottom": 150,
    # To be read at arm's length.
    "scale": 45,
    "footer": "none",
    "smuflTextFont": "none",
    "lyricTopMinMargin": 3.0,
    "lyricHeightFactor": 1.4,
    # The same pattern gives the same file.
    "xmlIdSeed": 1,
}

LOWER = 150
"""How much lower the sticking is set, in hundredths of a millimetre at a scale of 100, so that it
keeps clear of the stems of the feet.
"""

_FONTS = "\"Times, 'Times New Roman', 'Liberation Serif', 'Libertinus Serif', serif\""
"""Faces of much the same width, so that words take the room they were given."""

SMALLER = 0.88
"""Text is set this much smaller than it was measured: other faces are wider than verovio's."""

WIDEST = 33_000
"""The size of a text times its letters, so that a long title stays on the page."""

_SVG = "http://www.w3.org/2000/svg"
_CLASS = f".//{{{{{_SVG}}}}}g[@class='{{}}']"
_CARRIED = ("x", "y", "text-anchor", "font-size", "font-style", "font-weight")
_SIGNS = {
    "\ueca2": "\N{MUSICAL SYMBOL WHOLE NOTE}",
    "\ueca3": "\N{MUSICAL SYMBOL HALF NOTE}",
    "\ueca5": "♩",
    "\ueca7": "♪",
    "\ueca9": "\N{MUSICAL SYMBOL SIXTEENTH NOTE}",
    "\uecb7": ".",
}
"""The note of a tempo in the music font, and as plain text."""


def sheet_pages(patterns: Sequence[Pattern], title: str = "", paper: str = "a4") -> list[str]:
    """Return patterns engraved on as few pages as they need, each from a new line on, as SVG.

    Raises Failure where verovio is not installed, BadInput for what cannot be written in notes.
    """
    count = sum(len(pattern.bars) for pattern in patterns)
    if count > MOST_BARS:
        raise BadInput(
            f"{count:,} bars are more than a sheet holds ({MOST_BARS:,})",
            fix="print fewer patterns at a time",
        )
    if len(patterns) == 1 and not title:
        return _texts(_engrave(to_musicxml(*patterns), paper))
    # Each pattern is broken into lines as it would be alone.
    lines = [_lines(_engrave(to_musicxml(pattern), paper)) for pattern in patterns]
    document = to_musicxml(*patterns, title=title, systems=lines)
    engraved = _engrave(document, paper, breaks="line")
    _drop_courtesies(engraved, list(accumulate(map(sum, lines))))
    return _texts(engraved)


def _engrave(document: str, paper: str, breaks: str = "auto") -> list[ET.Element]:
    """Return a MusicXML document as pages; lines are broken where they are full ("auto") or where
    the document says so ("line").
    """
    verovio = _verovio()
    width, height = PAPERS[paper]
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        _OPTIONS | {"pageWidth": width * 10, "pageHeight": height * 10, "breaks": breaks}
    )
    if not toolkit.loadData(document):
        raise Failure("verovio cannot engrave the pattern", fix="print its .musicxml elsewhere")
    numbers = range(1, toolkit.getPageCount() + 1)
    return [_plain_text(toolkit.renderToSVG(number)) for number in numbers]


def _lines(engraved: Sequence[ET.Element]) -> list[int]:
    """Return how many bars stand on each line of a pattern engraved alone."""
    systems = [system for page in engraved for system in page.iterfind(_CLASS.format("system"))]
    return [len(system.findall(_CLASS.format("measure"))) for system in systems]


def _drop_courtesies(engraved: Sequence[ET.Element], ends: Sequence[int]) -> None:
    """Take out the next pattern's meter behind the last bar of each pattern."""
    bars = [bar for page in engraved for bar in page.iterfind(_CLASS.format("measure"))]
    for end in ends:
        for staff in bars[end - 1].findall(_CLASS.format("staff")):
            names = [child.get("class") for child in staff]
            for child in list(staff)[names.index("layer") :]:
                if child.get("class") == "meterSig":
                    staff.remove(child)
                    _end_staff(staff, bars[end - 1])


def _end_staff(staff: ET.Element, bar: ET.Element) -> None:
    """Let the lines of a staff end at the bar's closing line."""
    edges = [
        (int(found[1]), int(line.get("stroke-width", "0")))
        for line in bar.iterfind(_CLASS.format("barLine") + f"/{{{_SVG}}}path")
        if (found := re.match(r"M(\d+) ", line.get("d", "")))
    ]
    if edges:
        end, width = max(edges)
        for line in staff.iterfind(f"{{{_SVG}}}path"):
            line.set("d", re.sub(r"L\d+ ", f"L{end + width // 2} ", line.get("d", "")))


def _texts(engraved: Sequence[ET.Element]) -> list[str]:
    ET.register_namespace("", _SVG)
    ET.register_namespace("xlink", "http://www.w3.org/1999/xlink")
    return [ET.tostring(page, "unicode") for page in engraved]


def _verovio() -> Any:
    try:
        import verovio
    except ImportError as error:
        raise Failure(
            "engraving a page needs verovio, which is not installed",
            fix='install it with: pip install "verovio<7" typst',
        ) from error
    verovio.enableLog(verovio.LOG_OFF)
    return verovio


def _plain_text(page: str) -> ET.Element:
    """Return an SVG page with each text as one line at one place."""
    root = ET.fromstring(page.replace('"Times, serif"', _FONTS))
    for text in root.iter(f"{{{_SVG}}}text"):
        _flatten(text)
    for text in root.iterfind(_CLASS.format("verse") + f"//{{{_SVG}}}text"):
        text.set("y", str(int(text.get("y", "0")) + LOWER))
    return root


def _flatten(text: ET.Element) -> None:
    pieces = list(_pieces(text, {}))
    for child in list(text):
        text.remove(child)
    text.text = None
    if not pieces:
        return
    first = pieces[0][1]
    text.attrib |= {name: first[name] for name in _CARRIED if name in first}
    words = "".join(piece for piece, _ in pieces)
    # A music font's note is drawn larger than the words beside it.
    size = min(float(style["font-size"][:-2]) for _, style in pieces)
    longest = WIDEST / max(len(words), 1)
    text.set("font-size", f"{min(size * SMALLER, longest):.0f}px")
    text.text = re.sub(r"(?<=[♩♪])\s*\.", ".", words).replace("\N{NO-BREAK SPACE}", " ")


def _pieces(element: ET.Element, style: dict[str, str]) -> Iterator[tuple[str, dict[str, str]]]:
    """Yield the words inside an element with the style each inherits, titles left out."""
    if element.tag == f"{{{_SVG}}}title":
        return
    style = style | {name: element.attrib[name] for name in _CARRIED if name in element.attrib}
    words = element.text or ""
    if words.strip() or (words and len(element) == 0 and "\n" not in words):
        yield "".join(_SIGNS.get(sign, sign) for sign in words), style
    for child in element:
        yield from _pieces(child, style)


def pages_as_html(pages: Sequence[str], title: str, paper: str = "a4") -> str:
    """Return one HTML file with a page of paper for each SVG page, ready to print."""
    width, height = PAPERS[paper]
    sheets = "\n".join(pages)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>{html.escape(title)}</title>
<style>
@page {{ size: {width}mm {height}mm; margin: 0 }}
body {{ margin: 0 }}
svg {{ display: block; width: {width}mm; height: {height}mm; break-after: page }}
</style>
</head>
<body>
{sheets}
</body>
</html>
"""


CHROMIUMS = ("chromium", "chromium-browser", "google-chrome", "msedge")
PATIENCE_S = 120


def to_pdf(pages: Sequence[str], paper: str = "a4") -> bytes:
    """Return SVG pages as a PDF.

    Raises Failure where no way is found, telling how to print the HTML instead, or where the way
    that was found fails.
    """
    way = _way()
    if way is None:
        raise Failure(
            "no program to make a PDF is installed",
            fix="install one with: pip install typst, "
            "or write an .html and print it to PDF from any browser",
        )
    with TemporaryDirectory() as place:
        folder = Path(place)
        names = [f"page-{number}.svg" for number in range(1, len(pages) + 1)]
        for name, page in zip(names, pages, strict=True):
            (folder / name).write_text(page, encoding="utf-8")
        way(folder, names, paper)
        return (folder / "sheet.pdf").read_bytes()


def _way() -> Callable[[Path, Sequence[str], str], None] | None:
    if find_spec("typst"):
        return _typst
    if _program("rsvg-convert"):
        return _rsvg
    return _chromium if _browser() else None


def _typst(folder: Path, names: Sequence[str], paper: str) -> None:
    import typst

    width, height = PAPERS[paper]
    size = f"width: {width}mm, height: {height}mm"
    rows = [f'#set page({size}, margin: 0pt)\n#set document(title: "Sheet")']
    rows += [f'#image("{name}", {size})' for name in names]
    source = folder / "sheet.typ"
    source.write_text("\n".join(rows), encoding="utf-8")
    try:
        typst.compile(str(source), output=str(folder / "sheet.pdf"))
    except (RuntimeError, OSError) as error:
        raise Failure(f"typst cannot make the PDF ({error})", fix="write an .html") from error


def _rsvg(folder: Path, names: Sequence[str], paper: str) -> None:
    width, height = (f"{size}mm" for size in PAPERS[paper])
    size = [f"--page-width={width}", f"--page-height={height}", f"-w{width}", f"-h{height}"]
    _run_program([_program("rsvg-convert"), "-f", "pdf", *size, "-o", "sheet.pdf", *names], folder)


def _chromium(folder: Path, names: Sequence[str], paper: str) -> None:
    pages = [(folder / name).read_text(encoding="utf-8") for name in names]
    (folder / "sheet.html").write_text(pages_as_html(pages, "Sheet", paper), encoding="utf-8")
    quiet = ["--headless=new", "--no-pdf-header-footer", "--disable-gpu"]
    page = (folder / "sheet.html").as_uri()
    _run_program([_browser(), *quiet, "--print-to-pdf=sheet.pdf", page], folder)


def _browser() -> str:
    return next((found for name in CHROMIUMS if (found := _program(name))), "")


def _program(name: str) -> str:
    """Return the whole path of an installed program, empty where there is none.

    Windows looks into the current folder first, where anybody's file may be; that is never run.
    """
    found = shutil.which(name) or ""
    return found if os.path.isabs(found) else ""


def _run_program(command: Sequence[str], folder: Path) -> None:
    try:
        subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=PATIENCE_S)
    except (OSError, subprocess.SubprocessError) as error:
        raise Failure(
            f"{Path(command[0]).name} cannot make the PDF", fix="write an .html"
        ) from error
