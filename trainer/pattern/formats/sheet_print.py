"""The SVG pages of a sheet as one HTML file or as a PDF.

A PDF is made the first way the machine has: typst (in the extra `print`, a wheel for every system)
embeds the fonts and keeps the exact paper; else rsvg-convert or a Chromium that is installed. None
of them uses the network.
"""

from __future__ import annotations

import html
import os
import shutil
import subprocess
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from trainer.errors import Failure
from trainer.pattern.formats.sheet import PAPERS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


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

    Raises Failure where no way is found, with how to print the HTML instead, or where the way
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
