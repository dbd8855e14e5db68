"""Opening a session file and reading all of it, trusting none of it.

Only a plain file of a bounded size is opened. Every way a line can be wrong (not JSON, the wrong
kind, NaN, too deep, too long, too many) is BadInput that names the line; nothing in a file is ever
followed, opened or run.

One fault does not end the reading: a strike's line that was damaged, cut short or holding bytes
that nobody types. It is left out and its number kept, so that whoever shows the session can say so;
a stroke is never guessed. Whole lines with wrong values were edited, and other kinds of line say
what was due or done, so both are refused.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from trainer.archive.session import MARKS, RungResult, SentClick, Session, SessionMark
from trainer.archive.session_format import LONGEST_HEADER, LONGEST_LINE, decode_line, read_header
from trainer.errors import BadInput
from trainer.fields import Fields, json_number
from trainer.file_system import open_file
from trainer.kit.hits import Strike
from trainer.midi.hit_source import Control
from trainer.midi.midi_message import with_pedal
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice.course import Pass, pass_end, seconds_per_quarter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path
    from typing import BinaryIO

    from trainer.archive.session import SessionHeader


LONGEST_S = 7 * 86_400.0
MOST_LINES = 1_000_000
MOST_TARGETS = 1_000_000
LONGEST_STRIKE = 200
"""Bounds of what is read: far above any real session, low enough for time and memory."""

MOST_DAMAGED = 3
"""More damaged strikes than this, and the file is not worth judging."""

DAMAGED_LINE_FIX = (
    "it was damaged or edited; put a copy of the file back or mend that line, it was left as it is"
)


def parse_session(lines: Iterable[bytes]) -> Session:
    """Return the session that the lines of a file hold; raises BadInput naming the line.

    Lines come with their line breaks; a last one without is left out as torn.
    """
    reader: _SessionReader | None = None
    torn = False
    for number, raw in enumerate(lines, 1):
        torn = not raw.endswith(b"\n") and len(raw) <= LONGEST_HEADER
        if torn:
            break
        try:
            if reader is None:
                reader = _SessionReader(read_header(raw))
            else:
                reader.add(number, raw)
        except BadInput as error:
            raise error.at(f"line {number}") from None
    if reader is None:
        raise BadInput("this is no session file", mend="its first line, the header, is missing")
    return reader.session(torn)


class _SessionReader:
    """Collects the lines after the header."""

    def __init__(self, header: SessionHeader) -> None:
        self.header = header
        self.passes: list[Pass] = []
        self.strikes: list[Strike] = []
        self.idle: list[Strike] = []
        self.controls: list[Control] = []
        self.clicks: list[SentClick] = []
        self.rungs: list[RungResult] = []
        self.marks: list[SessionMark] = []
        self.last: Fields | None = None
        self.damaged: list[int] = []
        self._busy_until_s = -math.inf
        self._asked = 0
        self._kinds: dict[str, Callable[[Fields], None]] = {
            "pass": self._pass,
            "cut": self._cut,
            "idle": self._idle,
            "control": self._control,
            "click": self._click,
            "rung": self._rung,
            "timing": self._timing,
            "summary": self._summary,
            **dict.fromkeys(MARKS, self._mark),
        }

    def add(self, number: int, raw: bytes) -> None:
        """Take one line in."""
        if self.last is not None:
            raise BadInput("there is a line after the summary")
        if number > MOST_LINES:
            raise BadInput(f"the file has more than {MOST_LINES} lines")
        if raw.startswith(b"["):
            if _damaged(raw) and len(self.damaged) < MOST_DAMAGED:
                self.damaged.append(number)
                return
            self.strikes.append(_strike(decode_line(raw, LONGEST_STRIKE, DAMAGED_LINE_FIX)))
            return
        fields = Fields(decode_line(raw, LONGEST_LINE, DAMAGED_LINE_FIX))
        # A kind this version does not know was added by a later one that we can still read.
        take = self._kinds.get(fields.text("kind"))
        if take:
            take(fields)

    def session(self, torn: bool) -> Session:
        """Return all that was taken in."""
        return Session(
            self.header,
            tuple(self.passes),
            tuple(with_pedal(self.strikes, self.controls)),
            tuple(self.idle),
            tuple(self.controls),
            tuple(self.clicks),
            tuple(self.rungs),
            tuple(self.marks),
            summary=self.last.table("summary") if self.last else None,
            recovered=self.last.flag("recovered", False) if self.last else False,
            torn=torn,
            damaged=tuple(self.damaged),
        )

    def _pass(self, fields: Fields) -> None:
        one = Pass(
            index=fields.whole("index", len(self.passes), len(self.passes)),
            tempo=fields.number("tempo", MIN_TEMPO, MAX_TEMPO),
            start_s=_seconds(fields, "start_s"),
            rung=fields.whole("rung", 0, MOST_LINES, 0),
            click_late_s=fields.number("click_late_s", -1.0, 1.0, 0.0),
        )
        self._close_last()
        if one.start_s < self._busy_until_s:
            raise BadInput("the pass begins before the one above it is half over")
        if self._asked + len(self.header.pattern.notes) > MOST_TARGETS:
            raise BadInput(f"the session asks for more than {MOST_TARGETS} strokes")
        self.passes.append(one)

    def _close_last(self) -> None:
        """Count the strokes of the pass that is over, so that too many or stacked ones are refused.

        A pass that was cut before its first beat asks for none and is in nobody's way.
        """
        if not self.passes:
            return
        pattern, last = self.header.pattern, self.passes[-1]
        length_s = pass_end(pattern, last) - last.start_s
        beats = length_s / seconds_per_quarter(pattern, last.tempo)
        self._asked += bisect_left(pattern.notes, beats, key=lambda note: float(note.beat))
        if length_s > 0:
            self._busy_until_s = last.start_s + length_s / 2

    def _cut(self, fields: Fields) -> None:
        index = fields.whole("pass", 0, len(self.passes) - 1)
        self.passes[index] = replace(self.passes[index], end_s=_seconds(fields, "at_s"))

    def _idle(self, fields: Fields) -> None:
        self.idle.append(_strike(fields.rows("strike", 4)))

    def _control(self, fields: Fields) -> None:
        self.controls.append(
            Control(
                _seconds(fields),
                fields.choice("control", ("control", "choke")),
                fields.whole("number", 0, 127),
                fields.whole("value", 0, 127),
            )
        )

    def _click(self, fields: Fields) -> None:
        self.clicks.append(SentClick(_seconds(fields), _seconds(fields, "late_s")))

    def _timing(self, fields: Fields) -> None:
        timing = self.header.timing | fields.table("timing")
        self.header = replace(self.header, timing=timing)

    def _rung(self, fields: Fields) -> None:
        self.rungs.append(
            RungResult(
                fields.whole("index", 0, MOST_LINES),
                fields.number("tempo", MIN_TEMPO, MAX_TEMPO),
                fields.flag("clean"),
                fields.texts("failed"),
                _seconds(fields),
            )
        )

    def _mark(self, fields: Fields) -> None:
        self.marks.append(
            SessionMark(
                fields.text("kind"),
                _seconds(fields),
                fields.text("reason", ""),
                fields.number("seconds", 0, LONGEST_S, 0.0),
            )
        )

    def _summary(self, fields: Fields) -> None:
        fields.table("summary")
        fields.flag("recovered", False)
        self.last = fields


def _seconds(fields: Fields, key: str = "time_s") -> float:
    return fields.number(key, -LONGEST_S, LONGEST_S)


def _damaged(raw: bytes) -> bool:
    """Return whether a line was a strike's and nothing else before it was damaged."""
    body = raw.rstrip(b"\n")
    if len(raw) > LONGEST_STRIKE or any(sign in b'[{"' for sign in body[1:]):
        return False
    return not body.endswith(b"]") or any(not 32 <= sign < 127 for sign in body)


def _strike(row: Any) -> Strike:
    """Return the strike of a compact line."""
    match row:
        case [time_s, int(note), int(velocity)]:
            position = None
        case [time_s, int(note), int(velocity), place]:
            position = float(json_number(place, "a strike's position", 0, 1))
        case _:
            raise BadInput("a strike must be [seconds, note, velocity]")
    json_number(note, "a strike's note", 0, 127)
    json_number(velocity, "a strike's velocity", 1, 127)
    return Strike(
        float(json_number(time_s, "a strike's time", -LONGEST_S, LONGEST_S)),
        note,
        velocity,
        position,
    )


LONGEST_FILE = 64 * 2**20
"""Bytes: more than a day of playing without a break at ten strokes a second."""


def open_session(path: Path) -> Session:
    """Return the session in a file; raises BadInput naming the file and the line."""
    try:
        with open_session_file(path) as file:
            return parse_session(_file_lines(file))
    except BadInput as error:
        raise error.at(str(path)) from None


def open_session_file(path: Path) -> BinaryIO:
    """Open the file of a session for reading; raises BadInput for what cannot be one."""
    return open_file(path, LONGEST_FILE, "name a session that the trainer saved")


def _file_lines(file: BinaryIO) -> Iterator[bytes]:
    """Lines of a file that may still be growing, none of them endless."""
    left = LONGEST_FILE
    while left > 0 and (line := file.readline(LONGEST_HEADER + 2)):
        left -= len(line)
        yield line
