"""The one way to a picture: an SVG file for a browser, light or dark, and for paper.

A sheet is drawn with shapes that have a class; what a class looks like is defined here, once for
each of the two grounds. The reader's browser chooses the ground, paper is always light. Every text
is data: it can be nothing but text, and what would steer a terminal is made visible.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, SubElement, tostring

from trainer.console import printable
from trainer.errors import BadInput
from trainer.results import save_result

if TYPE_CHECKING:
    from pathlib import Path

SUFFIX = ".svg"
KEEP_BLANKS = "{http://www.w3.org/XML/1998/namespace}space"
"""The attribute that keeps the blank between a label and what follows, and those of columns."""

_LIGHT = {
    "paper": "#ffffff",
    "ink": "#16181c",
    "off": "#b35900",
    "centre": "#009e73",
    "line": "#1f5fa8",
}
_DARK = _LIGHT | {"paper": "#101216", "ink": "#e8e6e1", "off": "#e69f00", "line": "#7fb2e6"}


def _grounds(colours: dict[str, str]) -> str:
    """Return the rules that differ between a light and a dark ground."""
    paper, ink, off, centre, line = colours.values()
    return (
        f"svg {{ background: {paper}; }} .paper {{ fill: {paper}; }} text, .dot {{ fill: {ink}; }}"
        f" .axis, .off, .centre, .cross, .goal, .ring {{ stroke: {ink}; }} .off {{ fill: {off}; }}"
        f" .centre {{ fill: {centre}; }}"
        f" .line {{ stroke: {line}; }} .band, text.named {{ fill: {line}; }}"
    )


STYLE = f"""
svg {{ font-family: sans-serif; font-size: 12px; max-width: 100%; height: auto; }}
.heading {{ font-size: 18px; font-weight: bold; }} .strong {{ font-weight: bold; }}
.columns {{ font-family: monospace; }}
.faint {{ opacity: .7; }} .band {{ fill-opacity: .18; }}
.axis {{ stroke-width: .6; stroke-opacity: .4; fill: none; }}
.cross, .goal, .ring {{ stroke-width: 1.2; fill: none; }} .goal {{ stroke-dasharray: 6 4; }}
.off, .centre {{ stroke-width: .4; }} .line {{ stroke-width: 2; fill: none; }}
{_grounds(_LIGHT)}
@media screen and (prefers-color-scheme: dark) {{ {_grounds(_DARK)} }}
"""


class Picture:
    """A picture of `width` by `height` pixels; `title` is what a browser's tab and a reader say."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.root = Element(
            "svg",
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {width:g} {height:g}",
            width=f"{width:g}",
            height=f"{height:g}",
            role="img",
        )
        SubElement(self.root, "title").text = printable(title)
        SubElement(self.root, "style").text = STYLE
        self.shape("rect", "paper", width=width, height=height)

    def group(self, title: str = "") -> Element:
        """Add a group; its title is what a pointer on it and a screen reader get."""
        made = SubElement(self.root, "g")
        if title:
            SubElement(made, "title").text = printable(title)
        return made

    def shape(
        self, name: str, kind: str, parent: Element | None = None, **places: float | str
    ) -> None:
        """Add a shape of a class; numbers are pixels."""
        texts = {key: one if isinstance(one, str) else f"{one:.6g}" for key, one in places.items()}
        SubElement(self.root if parent is None else parent, name, {"class": kind, **texts})

    def text(
        self,
        x: float,
        y: float,
        text: str,
        kind: str = "",
        anchor: str = "start",
        parent: Element | None = None,
        label: str = "",
    ) -> None:
        """Write some text, a label stressed before it; `anchor` is which end is at `x`."""
        place = {"x": f"{x:.6g}", "y": f"{y:.6g}", "text-anchor": anchor}
        into = self.root if parent is None else parent
        made = SubElement(into, "text", place | ({"class": kind} if kind else {}))
        if label or kind == "columns":
            made.set(KEEP_BLANKS, "preserve")
        if label:
            stressed = SubElement(made, "tspan", {"class": "strong"})
            stressed.text, stressed.tail = printable(label), printable(text)
        else:
            made.text = printable(text)

    def source(self) -> str:
        """Return the text of the file."""
        return tostring(self.root, encoding="unicode") + "\n"


def check_picture_name(path: Path) -> Path:
    """Return where a picture will be saved; BadInput for a name that is not a picture's."""
    if path.suffix.lower() != SUFFIX:
        raise BadInput("pictures are saved as SVG", where=str(path), fix="end its name in .svg")
    return path


def save_picture(path: Path, sheet: Picture, *, own: bool = False) -> Path:
    """Save a picture as `results.save_result` does, and return where it is."""
    return save_result(check_picture_name(path), sheet.source(), own=own)
