"""Patterns engraved by verovio as lines of staff, for the pages of `trainer.pattern.formats.sheet`.

verovio, in the optional extra `print`, breaks each pattern into lines and draws them. What it draws
is changed in five respects. Text that it nests several levels deep is one plain line, which every
program that shows SVG puts in the right place. The sticking is a little lower, clear of the stems
of the feet. Section titles are put in afterwards: where they are long, verovio crowds a whole
pattern into one line. Clefs can be taken out. Identifiers are taken out, so that lines of many
patterns can share a page.

Lengths are in hundredths of a millimetre.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from trainer.errors import Failure
from trainer.kit.voices import ROW, VOICES
from trainer.pattern.formats.musicxml_notes import times_words
from trainer.pattern.formats.musicxml_write import is_repeat, to_musicxml
from trainer.pattern.staff import staff_place

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trainer.pattern.model import Pattern

_OPTIONS = {
    "svgViewBox": True,
    "svgBoundingBoxes": True,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "pageHeight": 20_000,
    "header": "none",
    "footer": "none",
    "smuflTextFont": "none",
    "lyricTopMinMargin": 3.0,
    "lyricHeightFactor": 1.4,
    # A last line that is at least this full is spread over the width.
    "minLastJustification": 0.4,
    # The same pattern gives the same file.
    "xmlIdSeed": 1,
}

LOWER = 150
"""How much lower the sticking is set."""

SMALLER = 0.88
"""Text is set this much smaller than it was measured: other faces are wider than verovio's."""

LETTER = 0.52
"""How wide a letter is on average, in sizes of its type (measured on the widest usual serif face,
which a system without those of Times takes).
"""

TITLE_SIZE = 356
"""How large the title of a section is at most."""

LEAST_TITLE = 250
"""The size of type below which a title is broken into two rows."""

CLEF = 380
"""How much of a line a clef takes up."""

SVG = "http://www.w3.org/2000/svg"
LINK = "{http://www.w3.org/1999/xlink}href"
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

_MARKED = "#010101"
"""The colour that marks heads which verovio draws without their slash or line."""

SLASH = (-90, 165, 310, -165)
"""The slash through a head: from x and y to x and y, counted from the head's left middle."""

LINE = (110, 200, 110, -200)
"""The line through the circle of a half-open hi-hat, counted alike."""

_TITLE = "§{}§"
"""What is engraved where a section's title belongs."""


@dataclass(frozen=True, slots=True)
class StaffLine:
    """One line of staff: what is drawn, and how far up and down it reaches."""

    drawn: ET.Element
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Engraved:
    """Lines of staff, and the signs of the music font they use, by their identifiers."""

    lines: tuple[StaffLine, ...]
    signs: dict[str, ET.Element]


def engraved(pattern: Pattern, width: int) -> Engraved:
    """Return a pattern on lines of a width.

    Raises Failure where verovio is not installed, BadInput for what cannot be written in notes.
    """
    titles = [_section_words(pattern, at) for at in range(len(pattern.sections))]
    sections = (
        replace(section, title=_TITLE.format(at) if title else "")
        for at, (section, title) in enumerate(zip(pattern.sections, titles, strict=True))
    )
    document = to_musicxml(replace(pattern, sections=tuple(sections)), bare=True)
    return _engrave(document, width, titles)


def _section_words(pattern: Pattern, at: int) -> str:
    """Return what is written above a section: its title, and how often it is played."""
    section = pattern.sections[at]
    times = times_words(section.times) if is_repeat(pattern, section) else ""
    return ", ".join(words for words in (_spoken(section.title), times) if words)


def _spoken(title: str) -> str:
    """Return a title, with the drums by their names where it is the path of an order."""
    parts = [part.split() for part in title.split(", ")]
    if not all(word.partition("/")[0] in VOICES for part in parts for word in part):
        return title
    return ", ".join(" - ".join(map(_drum_words, part)) for part in parts)


def _drum_words(place: str) -> str:
    voice, _, zone = place.partition("/")
    return f"{VOICES[voice].title} {zone}".rstrip()


def engraved_key(drums: Iterable[tuple[str, str]], width: int) -> Engraved:
    """Return what the places and heads of drums mean: one note for each, its name below it."""
    root = ET.Element("score-partwise", version="4.0")
    part_list = ET.SubElement(root, "part-list")
    ET.SubElement(ET.SubElement(part_list, "score-part", id="P1"), "part-name")
    part = ET.SubElement(root, "part", id="P1")
    for at, (voice, zone) in enumerate(sorted(drums, key=lambda drum: (ROW[drum[0]], drum[1]))):
        measure = ET.SubElement(part, "measure", number=str(at + 1))
        if not at:
            attributes = ET.SubElement(measure, "attributes")
            ET.SubElement(attributes, "divisions").text = "1"
            ET.SubElement(ET.SubElement(attributes, "clef"), "sign").text = "percussion"
        measure.append(_key_note(voice, zone))
        line = ET.SubElement(measure, "barline", location="right")
        ET.SubElement(line, "bar-style").text = "none"
    key = _engrave(ET.tostring(root, "unicode"), width, ())
    for row in key.lines:
        # It is no music: nobody who looks for bars in a page shall find it.
        for element in row.drawn.iter():
            element.attrib.pop("class", None)
    return key


def _key_note(voice: str, zone: str) -> ET.Element:
    spot = staff_place(voice, zone)
    note = ET.Element("note")
    unpitched = ET.SubElement(note, "unpitched")
    ET.SubElement(unpitched, "display-step").text = spot.step
    ET.SubElement(unpitched, "display-octave").text = str(spot.octave)
    for tag, text in (("duration", "1"), ("type", "quarter"), ("stem", "none")):
        ET.SubElement(note, tag).text = text
    ET.SubElement(note, "notehead").text = spot.head
    lyric = ET.SubElement(note, "lyric")
    ET.SubElement(lyric, "text").text = _drum_words(f"{voice}/{zone}")
    return note


def _by_class(name: str) -> str:
    """Return the path to the groups of a kind, wherever they are below."""
    return f".//{{{SVG}}}g[@class='{name}']"


def without_clef(drawn: ET.Element) -> None:
    """Take the clef out of a line of staff, which then begins behind it."""
    measure = drawn.find(_by_class("measure"))
    if measure is None:
        return
    for staff in measure.iterfind(_by_class("staff")):
        for clef in staff.findall(f"{{{SVG}}}g[@class='clef']"):
            staff.remove(clef)
        for line in staff.findall(f"{{{SVG}}}path"):
            line.set("d", re.sub(r"^M0 ", f"M{CLEF} ", line.get("d", "")))


def _engrave(document: str, width: int, titles: Sequence[str]) -> Engraved:
    verovio = _verovio()
    toolkit = verovio.toolkit()
    toolkit.setOptions(_OPTIONS | {"pageWidth": width // 10})
    document = re.sub(
        r"<notehead([^<>]*>)(slashed|circled)<",
        lambda head: (
            f'<notehead color="{_MARKED}"{head[1]}{head[2].replace("circled", "circle-x")}<'
        ),
        document,
    )
    if not toolkit.loadData(document):
        raise Failure("verovio cannot engrave the pattern", fix="print its .musicxml elsewhere")
    lines: list[StaffLine] = []
    signs: dict[str, ET.Element] = {}
    for number in range(1, toolkit.getPageCount() + 1):
        root = ET.fromstring(toolkit.renderToSVG(number))
        signs |= {sign.get("id", ""): sign for sign in root.iterfind(f"{{{SVG}}}defs/*")}
        for drawn in root.iterfind(_by_class("system")):
            lines.append(_line(drawn, width, titles))
    return Engraved(tuple(lines), signs)


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


def _line(drawn: ET.Element, width: int, titles: Sequence[str]) -> StaffLine:
    """Return a line of staff as it is printed."""
    for kind in ("dir", "verse"):
        for words in drawn.iterfind(_by_class(kind)):
            _without_boxes(words)
    edges = [edge for box in drawn.iter(f"{{{SVG}}}g") for edge in _box_edges(box)]
    _without_boxes(drawn)
    for text in drawn.iter(f"{{{SVG}}}text"):
        _flatten(text)
    for text in drawn.iterfind(_by_class("verse") + f"//{{{SVG}}}text"):
        text.set("y", str(int(text.get("y", "0")) + LOWER))
    _draw_slashes(drawn)
    marked = _marked_titles(drawn, titles)
    hidden = {id(text) for _, text, _ in marked}
    for text in drawn.iter(f"{{{SVG}}}text"):
        if id(text) not in hidden:
            y, size = float(text.get("y", "0")), float(text.get("font-size", "0")[:-2] or 0)
            edges += [y - 0.7 * size, y + 0.25 * size]
    top, bottom = min(edges, default=0.0), max(edges, default=0.0)
    if marked:
        top = _put_titles(marked, width, top - 110)
    for element in drawn.iter():
        element.attrib.pop("id", None)
    return StaffLine(drawn, top, bottom)


_ACROSS_LINES = {"tie", "slur", "hairpin", "scoreDef"}
"""What may be boxed on another line than it is drawn on."""


def _box_edges(group: ET.Element) -> Iterator[float]:
    """Yield how far up and down a sign reaches, where a group is the box of one."""
    kinds = group.get("class", "").split()
    if "bounding-box" in kinds and not _ACROSS_LINES & set(kinds):
        for box in group.findall(f"{{{SVG}}}rect"):
            y, height = float(box.get("y", "0")), float(box.get("height", "0"))
            if height > 0:
                yield from (y, y + height)


def _draw_slashes(drawn: ET.Element) -> None:
    """Draw the slash through each head that is marked."""
    for head in drawn.iterfind(f".//{{{SVG}}}g[@color='{_MARKED}']"):
        for use in head.findall(f"{{{SVG}}}use"):
            found = re.match(r"translate\((-?\d+), (-?\d+)\)", use.get("transform", ""))
            if found and (_is_head(use) or _is_circled(use)):
                x, y = int(found[1]), int(found[2])
                x1, y1, x2, y2 = LINE if _is_circled(use) else SLASH
                path = f"M{x + x1} {y + y1} L{x + x2} {y + y2}"
                ET.SubElement(head, f"{{{SVG}}}path", {"d": path, "stroke-width": "40"})


def _is_head(use: ET.Element) -> bool:
    """Return whether a sign is a head: parentheses of ghosts have the mark as well."""
    return use.get(LINK, "").startswith(("#E0A2", "#E0A3", "#E0A4"))


def _is_circled(use: ET.Element) -> bool:
    return use.get(LINK, "").startswith("#E0B3")


def _without_boxes(element: ET.Element) -> None:
    """Take out the rectangles that only say how far the signs reach, and places without signs."""
    for child in list(element):
        kind = child.get("class", "")
        if "bounding-box" in kind or "placeholder" in kind:
            element.remove(child)
        else:
            _without_boxes(child)


Titles = list[tuple[float, ET.Element, str]]
"""Where titles of sections belong, from left to right: x, the text there, and the title."""


def _marked_titles(drawn: ET.Element, titles: Sequence[str]) -> Titles:
    found = []
    for text in drawn.iter(f"{{{SVG}}}text"):
        marked = re.match(r"§(\d+)§", text.text or "")
        if marked:
            found.append((float(text.get("x", "0")), text, titles[int(marked[1])]))
    return sorted(found, key=lambda one: one[0])


def _put_titles(marked: Titles, width: int, y: float) -> float:
    """Put the titles of sections above a height, no wider than to the next one; return the top.

    Where some would be too small to read, all have two rows.
    """
    ends = [*(x for x, _, _ in marked[1:]), float(width)]
    rooms = [end - x - 200 for (x, _, _), end in zip(marked, ends, strict=True)]
    small = min(
        fitting_size(title, TITLE_SIZE, room)
        for (_, _, title), room in zip(marked, rooms, strict=True)
    )
    rows = 2 if small < LEAST_TITLE else 1
    for (_, text, title), room in zip(marked, rooms, strict=True):
        words = _halves(title) if rows > 1 else [title]
        size = min(fitting_size(one, TITLE_SIZE, room) for one in words)
        text.set("font-size", f"{size:.0f}px")
        text.text = words[0] if len(words) == 1 else None
        for row, one in enumerate(reversed(words if len(words) > 1 else [])):
            place = {"x": text.get("x", "0"), "y": f"{y - row * TITLE_SIZE:.0f}"}
            ET.SubElement(text, f"{{{SVG}}}tspan", place).text = one
        text.set("y", f"{y:.0f}")
    return y - (rows - 0.3) * TITLE_SIZE


def _halves(title: str) -> list[str]:
    """Return a title in two rows, broken at the comma or blank nearest its middle."""
    for between in (", ", " "):
        places = [at for at in range(len(title)) if title.startswith(between, at)]
        if places:
            cut = min(places, key=lambda at: abs(2 * at - len(title))) + len(between)
            return [title[:cut].rstrip(), title[cut:]]
    return [title]


def fitting_size(text: str, size: float, width: float) -> float:
    """Return the size of type at which a text is no wider than it may be."""
    return min(size, width / max(len(text) * LETTER, 1))


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
    text.set("font-size", f"{size * SMALLER:.0f}px")
    text.text = re.sub(r"(?<=[♩♪])\s*\.", ".", words).replace("\N{NO-BREAK SPACE}", " ")


def _pieces(element: ET.Element, style: dict[str, str]) -> Iterator[tuple[str, dict[str, str]]]:
    """Yield the words inside an element with the style each inherits, titles left out."""
    if element.tag == f"{{{SVG}}}title":
        return
    style = style | {name: element.attrib[name] for name in _CARRIED if name in element.attrib}
    words = element.text or ""
    if words.strip() or (words and len(element) == 0 and "\n" not in words):
        yield "".join(_SIGNS.get(sign, sign) for sign in words), style
    for child in element:
        yield from _pieces(child, style)
