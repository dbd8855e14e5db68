"""The lines of a session file as they are read: what each kind may say, and within which bounds.

The `...Line` types are the format: whatever else is in a line is BadInput. Nothing of the disk is
in here; `trainer.archive.session_format` describes the file and writes it,
`trainer.archive.session_file` reads whole files.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

from msgspec import UNSET, Meta, Struct, UnsetType

from trainer.archive.session import (
    LONGEST_HEADER,
    LONGEST_LINE,
    LONGEST_STRIKE,
    MARKS,
    MOST_RUNGS,
    LineCount,
    RungResult,
    Seconds,
    SentClick,
    SessionHeader,
    SessionMark,
    Tempo,
)
from trainer.errors import BadInput
from trainer.kit.model import KitRow
from trainer.pattern.json_data import PatternRow
from trainer.typed_json import Count, MidiNumber, Plain, Text, checked_plain, converted, reader

if TYPE_CHECKING:
    from collections.abc import Callable

FORMAT = "kit-trainer session"
VERSION = 1
"""Raised when an older program would misread the file; `_UPGRADES` then has a step from this one.

A key that is only added, with a default where it is missing, needs no new version.
"""

MOST_CLICK_LATE_S = 1.0
Line = TypeVar("Line")


class StrikeLine(Struct, array_like=True, forbid_unknown_fields=True, frozen=True):
    """A raw strike, or a choke with velocity 0."""

    time_s: Seconds
    note: MidiNumber
    velocity: MidiNumber
    position: Annotated[float, Meta(ge=0, le=1)] | UnsetType = UNSET


class PassLine(Struct, frozen=True):
    """A pass begins."""

    index: Count
    tempo: Tempo
    start_s: Seconds
    rung: LineCount = 0
    click_late_s: Annotated[float, Meta(ge=-MOST_CLICK_LATE_S, le=MOST_CLICK_LATE_S)] = 0.0
    from_s: Seconds | None = None


class CutLine(Struct, frozen=True, rename={"index": "pass"}):
    """A pass ends early."""

    index: Count
    at_s: Seconds


class IdleLine(Struct, frozen=True):
    """A strike that is not judged."""

    strike: StrikeLine


class ControlLine(Struct, frozen=True):
    """A controller or a choke."""

    time_s: Seconds
    control: Literal["control", "choke"]
    number: MidiNumber
    value: MidiNumber


class TimingLine(Struct, frozen=True):
    """Figures of how well time was kept."""

    timing: Plain


class SummaryLine(Struct, frozen=True):
    """The last line: the summary, and a digest for histories."""

    summary: Plain = {}
    recovered: bool = False
    seconds: Annotated[float, Meta(ge=0, le=1e9)] = 0.0
    passes: Count = 0
    strikes: Count = 0
    tempos: Annotated[tuple[Tempo, ...], Meta(max_length=2)] = ()
    rungs: Annotated[tuple[tuple[Tempo, bool], ...], Meta(max_length=MOST_RUNGS)] = ()
    clean_tempo: Tempo | None = None
    last_tempo: Tempo | None = None


class HeaderLine(Struct, frozen=True):
    """The first line, but for format and version."""

    started: Text
    pattern: PatternRow
    kit: KitRow
    player: Text = ""
    source: Text = ""
    tolerance: Plain = {}
    course: Plain = {}
    timing: Plain = {}
    software: Text = ""


class NamesRow(Struct, frozen=True):
    """The name of a kit or pattern and its title, where nothing else of it is wanted."""

    name: Text = ""
    title: Text = ""


class HeaderNames(Struct, frozen=True):
    """What a list of sessions wants of the first line."""

    started: Text
    pattern: NamesRow = NamesRow()
    kit: NamesRow = NamesRow()
    player: Text = ""
    source: Text = ""
    tolerance: Plain = {}
    course: Plain = {}


class _Stamp(Struct):
    """What every version's first line begins with."""

    format: Any = None
    version: Any = None


LINES: dict[str, Any] = {
    "pass": PassLine,
    "cut": CutLine,
    "idle": IdleLine,
    "control": ControlLine,
    "click": SentClick,
    "rung": RungResult,
    "timing": TimingLine,
    "summary": SummaryLine,
    **dict.fromkeys(MARKS, SessionMark),
}
"""The type of each kind of line; some are values of a session as they are."""


class _Kind(Struct):
    """What kind of line it is; the header has none."""

    kind: Any = None


_read_stamp, _read_any, _read_kind = reader(_Stamp), reader(dict), reader(_Kind)
_read_names, _read_whole_header = reader(HeaderNames), reader(HeaderLine)
_readers = {kind: reader(line) for kind, line in LINES.items()}
_read_strike, _read_summary = reader(StrikeLine), reader(SummaryLine)


def read_header(raw: bytes) -> SessionHeader:
    """Return the header that the first line holds."""
    line = _upgraded(raw, HeaderLine, _read_whole_header)
    return SessionHeader(
        pattern=_part("pattern", line.pattern.pattern),
        started=read_moment(line.started),
        kit=_part("kit", line.kit.kit),
        player=line.player,
        source=line.source,
        tolerance=checked_plain(line.tolerance, "tolerance"),
        course=checked_plain(line.course, "course"),
        timing=checked_plain(line.timing, "timing"),
        software=line.software,
    )


def _part(name: str, row: Callable[[], Line]) -> Line:
    try:
        return row()
    except BadInput as fault:
        raise fault.at(name) from None


def read_names(raw: bytes) -> HeaderNames:
    """Return the names and the start that the first line holds."""
    return _upgraded(raw, HeaderNames, _read_names)


_UPGRADES: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""For each older version, the step that turns its header into one of the next version."""


def _upgraded(raw: bytes, kind: type[Line], read: Callable[[bytes], Line]) -> Line:
    """Return a first line of a version that is read here, older ones turned into the present."""
    _bounded(raw, LONGEST_HEADER)
    stamp = _read_stamp(raw) if raw.lstrip().startswith(b"{") else _Stamp()
    if stamp.format != FORMAT:
        raise BadInput("this is no session file", fix="choose a file that the trainer saved")
    version = _version(stamp.version)
    if version == VERSION:
        return read(raw)
    row = _read_any(raw)
    for step in range(version, VERSION):
        row = _UPGRADES[step](row)
    return converted(row, kind)


def _version(given: Any) -> int:
    if isinstance(given, bool) or not isinstance(given, int) or given < 1:
        raise BadInput("must be a whole number from 1", where="version")
    if given > VERSION:
        raise BadInput(
            f"the file is of format version {str(given)[:9]}, this program reads up to {VERSION}",
            fix="install the newer program; the file was left as it is",
        )
    return given


def read_strike(raw: bytes) -> StrikeLine:
    """Return the strike of a compact line."""
    _bounded(raw, LONGEST_STRIKE)
    return _read_strike(raw)


def read_line(raw: bytes) -> Any:
    """Return what a line that is no strike says.

    None for a kind this version does not know: a later one, that can still be read, added it.
    """
    _bounded(raw, LONGEST_LINE)
    kind = _read_kind(raw).kind
    if not isinstance(kind, str):
        raise BadInput('"kind" is missing or no text')
    return _readers[kind](raw) if kind in _readers else None


def read_summary(raw: bytes) -> SummaryLine | None:
    """Return what a last line says; None where it is no summary, but a strike or the header."""
    if raw.startswith(b"[") or _read_kind(raw).kind != "summary":
        return None
    _bounded(raw, LONGEST_LINE)
    return _read_summary(raw)


def _bounded(raw: bytes, longest: int) -> None:
    if len(raw) > longest:
        raise BadInput("the line is too long", fix="this was not written by the trainer")


def read_moment(text: str) -> datetime:
    """Return a date and time with its zone."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = datetime.min
    zone = moment.utcoffset()
    if zone is None or zone.total_seconds() % 60 or not 1970 <= moment.year <= 9000:
        raise BadInput("must be a date and time with its zone", where="started")
    return moment
