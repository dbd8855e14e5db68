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
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from msgspec import UNSET

from trainer.archive import session_lines as lines
from trainer.archive.session import (
    LONGEST_FILE,
    LONGEST_HEADER,
    LONGEST_STRIKE,
    MOST_LINES,
    MOST_TARGETS,
    RungResult,
    SentClick,
    Session,
    SessionMark,
    notes_due,
)
from trainer.errors import BadInput
from trainer.file_system import open_file
from trainer.kit.hits import Strike
from trainer.midi.hit_source import Control
from trainer.midi.midi_message import with_pedal
from trainer.practice.course import Pass, pass_end
from trainer.typed_json import checked_plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path
    from typing import BinaryIO

    from trainer.archive.session import SessionHeader


MOST_DAMAGED = 3
"""More damaged strikes than this, and the file is not worth judging."""


def parse_session(rows: Iterable[bytes]) -> Session:
    """Return the session that the lines of a file hold; raises BadInput naming the line.

    Lines come with their line breaks; a last one without is left out as torn.
    """
    reader: _SessionReader | None = None
    torn = False
    for number, raw in enumerate(rows, 1):
        torn = not raw.endswith(b"\n") and len(raw) <= LONGEST_HEADER
        if torn:
            break
        try:
            if reader is None:
                reader = _SessionReader(lines.read_header(raw))
            else:
                reader.add(number, raw)
        except BadInput as error:
            raise error.at(f"line {number}") from None
    if reader is None:
        raise BadInput("this is no session file", fix="its first line, the header, is missing")
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
        self.last: lines.SummaryLine | None = None
        self.damaged: list[int] = []
        self._busy_until_s = -math.inf
        self._asked = 0

    def add(self, number: int, raw: bytes) -> None:
        """Take one line in."""
        if self.last is not None:
            raise BadInput("there is a line after the summary")
        if number > MOST_LINES:
            raise BadInput(f"the file has more than {MOST_LINES} lines")
        if not raw.startswith(b"["):
            self._take(lines.read_line(raw))
        elif _damaged(raw) and len(self.damaged) < MOST_DAMAGED:
            self.damaged.append(number)
        else:
            self.strikes.append(_strike(lines.read_strike(raw)))

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
            summary=self.last.summary if self.last else None,
            recovered=self.last.recovered if self.last else False,
            torn=torn,
            damaged=tuple(self.damaged),
        )

    def _take(self, line: Any) -> None:
        """Take in what a line says that is no strike."""
        match line:
            case SentClick():
                self.clicks.append(line)
            case RungResult():
                self.rungs.append(line)
            case SessionMark():
                self.marks.append(line)
            case lines.ControlLine():
                control = Control(line.time_s, line.control, line.number, line.value)
                self.controls.append(control)
            case lines.PassLine():
                self._pass(line)
            case lines.CutLine():
                self._cut(line)
            case lines.IdleLine():
                self.idle.append(_strike(line.strike))
            case lines.TimingLine():
                timing = self.header.timing | checked_plain(line.timing, "timing")
                self.header = replace(self.header, timing=timing)
            case lines.SummaryLine():
                checked_plain(line.summary, "summary")
                self.last = line

    def _pass(self, line: lines.PassLine) -> None:
        if line.index != len(self.passes):
            raise BadInput(f"must be {len(self.passes)}, the next one", where="index")
        one = Pass(
            line.index,
            line.tempo,
            line.start_s,
            line.rung,
            click_late_s=line.click_late_s,
            from_s=line.from_s,
        )
        self._close_last()
        if one.begins_s < self._busy_until_s:
            raise BadInput("the pass begins before the one above it is half over")
        if self._asked + len(self.header.pattern.notes) > MOST_TARGETS:
            raise BadInput(f"the session has more than {MOST_TARGETS} written strokes")
        self.passes.append(one)

    def _close_last(self) -> None:
        """Count the strokes of the pass that is over, so that too many or stacked ones are refused.

        A pass that was cut before its first beat has none and is in nobody's way.
        """
        if not self.passes:
            return
        pattern, last = self.header.pattern, self.passes[-1]
        length_s = pass_end(pattern, last) - last.begins_s
        self._asked += notes_due(pattern, last)
        if length_s > 0:
            self._busy_until_s = last.begins_s + length_s / 2

    def _cut(self, line: lines.CutLine) -> None:
        if line.index >= len(self.passes):
            raise BadInput("has not begun", where="pass")
        self.passes[line.index] = replace(self.passes[line.index], end_s=line.at_s)


def _damaged(raw: bytes) -> bool:
    """Return whether a line was a strike's and nothing else before it was damaged."""
    body = raw.rstrip(b"\n")
    if len(raw) > LONGEST_STRIKE or any(sign in b'[{"' for sign in body[1:]):
        return False
    return not body.endswith(b"]") or any(not 32 <= sign < 127 for sign in body)


def _strike(line: lines.StrikeLine) -> Strike:
    position = None if line.position is UNSET else line.position
    return Strike(line.time_s, line.note, line.velocity, position)


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
