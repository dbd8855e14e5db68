"""Sheets for the music stand: engraved patterns laid out on pages, as SVG.

Each pattern has its title, tempo and description above its lines. The first page has a key of the
drums where there are several. Each pattern begins with clef and meter, each page with a clef. Space
to write in (name and date, tempos reached, notes) is added where it is wanted.

Lengths are in hundredths of a millimetre, down from the top left corner of the page.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from textwrap import wrap
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from trainer.errors import BadInput
from trainer.pattern.formats.engraving import (
    LETTER,
    LINK,
    SVG,
    engraved,
    engraved_key,
    fitting_size,
    without_clef,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from trainer.pattern.formats.engraving import Engraved, StaffLine
    from trainer.pattern.model import Pattern

PAPERS = {"a4": (210, 297), "letter": (216, 279)}
"""Width and height in millimetres."""

MOST_BARS = 3_000
"""Some hundred pages: what verovio engraves in well under a minute."""

MOST_BOXES, MOST_NOTES = 8, 24
"""Boxes for tempos beside a title, and lines for notes, that fit a page."""

MARGIN = 1500
AFTER_LINE, AFTER_PATTERN = 330, 750
"""Space below a line of staff, and below a pattern."""

TITLE, HEADING, TEXT = 640, 430, 330
"""Sizes of type: of the page's title, of a pattern's, and of words."""

KEY_SCALE = 0.7
BOX_WIDTH, BOX_HEIGHT = 1150, 620
NOTES_APART = 900

FONTS = "Times, 'Times New Roman', 'Liberation Serif', 'Libertinus Serif', FreeSerif, serif"
"""Faces of much the same width, so that words take the room they were given."""

_STYLE = (
    "g.ending, g.fing, g.reh, g.tempo {font-weight:bold} "
    "g.dir, g.dynam, g.mNum {font-style:italic} "
    "ellipse, path, polygon, polyline, rect, line {stroke:currentColor}"
)
_NOTES = {
    Fraction(4): "\N{MUSICAL SYMBOL WHOLE NOTE}",
    Fraction(3): "\N{MUSICAL SYMBOL HALF NOTE}.",
    Fraction(2): "\N{MUSICAL SYMBOL HALF NOTE}",
    Fraction(3, 2): "♩.",
    Fraction(1): "♩",
    Fraction(3, 4): "♪.",
    Fraction(1, 2): "♪",
    Fraction(1, 4): "\N{MUSICAL SYMBOL SIXTEENTH NOTE}",
}


@dataclass(frozen=True, slots=True)
class SheetStyle:
    """What a sheet has beside its patterns.

    `title` is at its head; `tempo_boxes` are beside each pattern, `notes` are ruled lines at the
    end, `name_line` has room for a name and a date. `clean_tempos` has the fastest clean tempo of
    patterns by their names, in BPM.
    """

    title: str = ""
    paper: str = "a4"
    tempo_boxes: int = 0
    name_line: bool = False
    notes: int = 0
    clean_tempos: Mapping[str, float] = field(default_factory=dict)


def sheet_pages(patterns: Sequence[Pattern], style: SheetStyle | None = None) -> list[str]:
    """Return patterns engraved on as few pages as they need, each from a new line on, as SVG.

    Raises Failure where verovio is not installed, BadInput for what cannot be written in notes.
    """
    style = style or SheetStyle()
    count = sum(len(pattern.bars) for pattern in patterns)
    if count > MOST_BARS:
        raise BadInput(
            f"{count:,} bars are more than a sheet holds ({MOST_BARS:,})",
            fix="print fewer patterns at a time",
        )
    return _Sheet(patterns, style).pages()


def tempo_words(pattern: Pattern) -> str:
    """Return a tempo as it is written above the staff: `♩ = 80`."""
    unit = pattern.tempo_unit if pattern.tempo_unit in _NOTES else Fraction(1)
    return f"{_NOTES[unit]} = {pattern.tempo * float(pattern.tempo_unit / unit):g}"


class _Page:
    """One page in the making: what is drawn on it and the signs of the music font that needs."""

    def __init__(self, width: int, height: int) -> None:
        self.root = ET.Element(f"{{{SVG}}}svg", viewBox=f"0 0 {width} {height}", version="1.1")
        self.root.set("width", f"{width // 100}mm")
        self.root.set("height", f"{height // 100}mm")
        self.defs = ET.SubElement(self.root, f"{{{SVG}}}defs")
        ET.SubElement(self.root, f"{{{SVG}}}style", type="text/css").text = _STYLE
        look = {"color": "black", "font-family": FONTS}
        self.body = ET.SubElement(self.root, f"{{{SVG}}}g", look)
        self._signs: set[str] = set()
        self.y = float(MARGIN)
        self.lines = 0

    def text(self, x: float, y: float, words: str, size: float, **style: str) -> None:
        """Write words at a place."""
        names = {name.replace("_", "-"): value for name, value in style.items()}
        place = {"x": f"{x:.0f}", "y": f"{y:.0f}", "font-size": f"{size:.0f}px"}
        ET.SubElement(self.body, f"{{{SVG}}}text", place | names).text = words

    def rule(self, x: float, y: float, length: float) -> None:
        """Draw a line to write on."""
        path = {"d": f"M{x:.0f} {y:.0f} L{x + length:.0f} {y:.0f}", "stroke-width": "13"}
        ET.SubElement(self.body, f"{{{SVG}}}path", path)

    def box(self, x: float, y: float) -> None:
        """Draw a box to write a tempo in."""
        size = {"width": str(BOX_WIDTH - 120), "height": str(BOX_HEIGHT), "fill": "none"}
        place = {"x": f"{x:.0f}", "y": f"{y:.0f}", "stroke-width": "13"}
        ET.SubElement(self.body, f"{{{SVG}}}rect", place | size)

    def staff(self, line: StaffLine, signs: dict[str, ET.Element], scale: float = 1.0) -> None:
        """Draw a line of staff from here on down."""
        move = f"translate({MARGIN}, {self.y - line.top * scale:.0f})"
        if scale != 1:
            move += f" scale({scale})"
        ET.SubElement(self.body, f"{{{SVG}}}g", transform=move).append(line.drawn)
        for use in line.drawn.iter(f"{{{SVG}}}use"):
            name = use.get(LINK, "").removeprefix("#")
            if name in signs and name not in self._signs:
                self._signs.add(name)
                self.defs.append(signs[name])
        self.y += (line.bottom - line.top) * scale

    def svg(self) -> str:
        """Return the page as a document."""
        ET.register_namespace("", SVG)
        ET.register_namespace("xlink", "http://www.w3.org/1999/xlink")
        return ET.tostring(self.root, "unicode")


class _Sheet:
    """Pages filled from the top, pattern by pattern."""

    def __init__(self, patterns: Sequence[Pattern], style: SheetStyle) -> None:
        self.patterns, self.style = patterns, style
        width, height = PAPERS[style.paper]
        self.width, self.height = 100 * width, 100 * height
        self.room = self.width - 2 * MARGIN
        self.made = [_Page(self.width, self.height)]

    @property
    def page(self) -> _Page:
        """The page that is being filled."""
        return self.made[-1]

    def pages(self) -> list[str]:
        """Return all pages as documents."""
        alone = len(self.patterns) == 1 and not self.style.title
        self._head(self.patterns[0] if alone else None)
        self._key()
        for pattern in self.patterns:
            self._pattern(pattern, alone=alone)
        self._notes()
        for number, page in enumerate(self.made, 1):
            if len(self.made) > 1:
                words, y = f"{number} / {len(self.made)}", self.height - MARGIN // 2
                page.text(self.width / 2, y, words, TEXT, text_anchor="middle")
        return [page.svg() for page in self.made]

    def _head(self, alone: Pattern | None) -> None:
        """Write the title, a lone pattern's description, and where name and date go."""
        page, middle = self.page, self.width / 2
        title = alone.title if alone else self.style.title
        if self.style.name_line:
            page.text(MARGIN, page.y, "Name", TEXT)
            page.rule(MARGIN + 1000, page.y + 60, 0.55 * self.room)
            page.text(self.width - MARGIN - 5000, page.y, "Date", TEXT)
            page.rule(self.width - MARGIN - 4200, page.y + 60, 4200)
            page.y += 900
        rows, size = _title_rows(title, TITLE, self.room)
        for row in rows:
            page.y += size
            page.text(middle, page.y, row, size, text_anchor="middle")
        page.y += 250 if rows else 0
        if alone:
            self._about(alone, middle, text_anchor="middle")
        page.y += 300

    def _about(self, pattern: Pattern, x: float, **style: str) -> None:
        for line in _wrapped(pattern.about, self.room):
            self.page.y += 1.3 * TEXT
            self.page.text(x, self.page.y, line, TEXT, font_style="italic", **style)

    def _key(self) -> None:
        """Draw what the drums look like, where there is more than one."""
        drums = {(note.voice, note.zone) for pattern in self.patterns for note in pattern.notes}
        if len(drums) < 2:
            return
        key = engraved_key(drums, int(self.room / KEY_SCALE))
        for line in key.lines:
            self.page.staff(line, key.signs, KEY_SCALE)
            self.page.y += AFTER_LINE
        self.page.y += AFTER_LINE

    def _pattern(self, pattern: Pattern, *, alone: bool) -> None:
        drawn = engraved(pattern, self.room)
        if not drawn.lines:
            return
        needed = self._heading_height(pattern, alone=alone) + _height(drawn.lines[0])
        if self.page.lines and self.page.y + needed > self._end:
            self._turn()
        self._heading(pattern, alone=alone)
        self._lines(drawn)
        self.page.y += AFTER_PATTERN - AFTER_LINE

    @property
    def _end(self) -> float:
        return self.height - MARGIN

    def _turn(self) -> None:
        self.made.append(_Page(self.width, self.height))

    def _lines(self, drawn: Engraved) -> None:
        for number, line in enumerate(drawn.lines):
            if self.page.lines and self.page.y + _height(line) > self._end:
                self._turn()
            if number and self.page.lines:
                without_clef(line.drawn)
            self.page.staff(line, drawn.signs)
            self.page.lines += 1
            self.page.y += AFTER_LINE

    def _heading_height(self, pattern: Pattern, *, alone: bool) -> float:
        about = [] if alone else _wrapped(pattern.about, self.room)
        boxes = BOX_HEIGHT if self.style.tempo_boxes else 0
        rows, size = self._title(pattern)
        title = 0.0 if alone else 1.3 * size * (len(rows) - 1)
        return max(HEADING, boxes) + title + 1.3 * TEXT * len(about) + 200

    def _title(self, pattern: Pattern) -> tuple[list[str], float]:
        """Return a pattern's title beside its tempo and the boxes: its rows and size of type."""
        return _title_rows(pattern.title, HEADING, self._right - MARGIN - 2500)

    @property
    def _right(self) -> float:
        """How far to the right a heading reaches, up to the boxes for tempos."""
        boxes = self.style.tempo_boxes
        return self.width - MARGIN - boxes * BOX_WIDTH - (250 if boxes else 0)

    def _heading(self, pattern: Pattern, *, alone: bool) -> None:
        """Write title, tempo, boxes for tempos and description of a pattern."""
        page, boxes = self.page, self.style.tempo_boxes
        page.y += max(HEADING, BOX_HEIGHT if boxes else 0)
        for at in range(boxes):
            left = self.width - MARGIN - (boxes - at) * BOX_WIDTH + 120
            page.box(left, page.y - 0.8 * BOX_HEIGHT)
        tempo = tempo_words(pattern)
        if clean := self.style.clean_tempos.get(pattern.name):
            tempo += f", clean at {clean:g}"
        if alone and not boxes:
            page.text(MARGIN, page.y, tempo, 400, font_weight="bold")
        else:
            page.text(self._right, page.y, tempo, 400, font_weight="bold", text_anchor="end")
        if not alone:
            rows, size = self._title(pattern)
            for number, row in enumerate(rows):
                page.y += 1.3 * size if number else 0
                page.text(MARGIN, page.y, row, size, font_weight="bold")
            self._about(pattern, MARGIN)
        page.y += 200

    def _notes(self) -> None:
        """Rule the lines for notes at the end."""
        count = self.style.notes
        if not count:
            return
        if self.page.y + (count + 1) * NOTES_APART > self._end:
            self._turn()
        self.page.y += HEADING
        self.page.text(MARGIN, self.page.y, "Notes", TEXT)
        for _ in range(count):
            self.page.y += NOTES_APART
            self.page.rule(MARGIN, self.page.y, self.room)


def _height(line: StaffLine) -> float:
    return line.bottom - line.top


def _title_rows(title: str, size: float, room: float) -> tuple[list[str], float]:
    """Return a title in rows that fit a width, three at most, and the size of type they have."""
    one = fitting_size(title, size, room)
    if one >= TEXT:
        return [title] if title else [], one
    rows = _wrapped(title, room)
    return rows, min(fitting_size(row, TEXT, room) for row in rows)


def _wrapped(text: str, room: float) -> list[str]:
    """Return words broken into lines that fit a width, three at most."""
    lines = wrap(text, int(room / (TEXT * LETTER)))
    return [*lines[:2], lines[2] + "..."] if len(lines) > 3 else lines
