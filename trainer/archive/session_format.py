"""The lines of a session file: written from values, and the first and last line read and checked.

Nothing of the disk is in here. A file is JSON lines. Line 1 is the header, with all that is needed
to judge the session again. Then come, as they happen:

    [12.3456, 38, 101]               a raw strike: seconds, note, velocity (and position, 0 to 1)
    {"kind": "pass", ...}            a pass begins: index, tempo, start_s, rung, click_late_s
    {"kind": "idle", ...}            a strike while nothing was due, not judged: strike
    {"kind": "cut", ...}             a pass ends early: pass, at_s
    {"kind": "control", ...}         a controller or choke: control, time_s, number, value
    {"kind": "click", ...}           how late a click went out: time_s, late_s
    {"kind": "timing", ...}          how well time was kept, now and then and at the end: timing
    {"kind": "rung", ...}            a rung's result
    {"kind": "pause", ...}           also the other MARKS: time_s, reason, seconds
    {"kind": "summary", ...}         the last line of a session that was finished

Times are seconds on the session's clock as the driver stamped them: latency and filter are applied
on reading. Floats are written so that they are read back bit for bit. A last line without its line
break was torn by a crash and is left out.

A history reads only the first and the last line. Every way a line can be wrong (not JSON, NaN, too
deep, too long, another version) is BadInput. `trainer.archive.session_file` reads the whole file.
"""

from __future__ import annotations

import json
import math
from datetime import datetime
from typing import TYPE_CHECKING, Any, NoReturn

from trainer.archive.session import SessionHeader, played_seconds
from trainer.errors import BadInput
from trainer.fields import Fields
from trainer.kit import model as kit_serial
from trainer.pattern import json_data as pattern_serial

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.archive.session import RungResult, SentClick, SessionMark
    from trainer.kit.hits import Strike
    from trainer.midi.hit_source import Control
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Pass


FORMAT = "kit-trainer session"
VERSION = 1
"""Raised when an older program would misread the file; `ends` then says how to read older ones.

A key that is only added, with a default where it is missing, needs no new version.
"""


def json_line(row: Any) -> bytes:
    """Return one line of the file. Plain ASCII, so that no text can break a line or a terminal."""
    return json.dumps(row, allow_nan=False, separators=(",", ":")).encode("ascii") + b"\n"


def header_line(header: SessionHeader) -> bytes:
    """Return the first line."""
    return json_line(
        {
            "format": FORMAT,
            "version": VERSION,
            "software": header.software,
            "started": header.started.isoformat(),
            "player": header.player,
            "source": header.source,
            "tolerance": header.tolerance,
            "course": header.course,
            "timing": header.timing,
            "kit": kit_serial.kit_to_dict(header.kit),
            "pattern": pattern_serial.pattern_to_dict(header.pattern),
        }
    )


def strike_line(strike: Strike) -> bytes:
    """Return the line of one strike, by hand because it is written in the middle of playing."""
    position = "" if strike.position is None else f",{strike.position!r}"
    text = f"[{strike.time_s!r},{strike.note},{strike.velocity}{position}]\n"
    return text.encode("ascii")


def idle_line(strike: Strike) -> bytes:
    """Return the line of a strike while nothing was asked."""
    return json_line({"kind": "idle", "strike": [strike.time_s, strike.note, strike.velocity]})


def pass_line(one: Pass) -> bytes:
    """Return the line of a pass that begins."""
    row: dict[str, Any] = {"kind": "pass", "index": one.index, "tempo": one.tempo}
    row["start_s"] = one.start_s
    row |= {"rung": one.rung} if one.rung else {}
    return json_line(row | ({"click_late_s": one.click_late_s} if one.click_late_s else {}))


def cut_line(pass_index: int, at_s: float) -> bytes:
    """Return the line that cuts a pass short: targets due at or after `at_s` are not judged."""
    return json_line({"kind": "cut", "pass": pass_index, "at_s": at_s})


def control_line(control: Control) -> bytes:
    """Return the line of a controller or choke."""
    return json_line(
        {
            "kind": "control",
            "control": control.kind,
            "time_s": control.time_s,
            "number": control.number,
            "value": control.value,
        }
    )


def click_line(click: SentClick) -> bytes:
    """Return the line of a click's lateness."""
    return json_line({"kind": "click", "time_s": click.time_s, "late_s": click.late_s})


def timing_line(timing: dict[str, Any]) -> bytes:
    """Return the line of how well time was kept; its figures add to those of the header."""
    return json_line({"kind": "timing", "timing": timing})


def rung_line(rung: RungResult) -> bytes:
    """Return the line of a rung's result."""
    return json_line(
        {
            "kind": "rung",
            "index": rung.index,
            "tempo": rung.tempo,
            "clean": rung.clean,
            "failed": list(rung.failed),
            "time_s": rung.time_s,
        }
    )


def mark_line(mark: SessionMark) -> bytes:
    """Return the line of a pause, a resumption, an unplugging or a stall."""
    row: dict[str, Any] = {"kind": mark.kind, "time_s": mark.time_s, "reason": mark.reason}
    return json_line(row | ({"seconds": mark.seconds} if mark.seconds else {}))


def summary_line(
    summary: dict[str, Any],
    pattern: Pattern,
    passes: Sequence[Pass],
    strikes: int,
    rungs: Sequence[RungResult],
    *,
    recovered: bool = False,
) -> bytes:
    """Return the last line: the summary, and a digest by which histories need not read the rest."""
    tempos = [one.tempo for one in passes]
    return json_line(
        {
            "kind": "summary",
            "recovered": recovered,
            "seconds": played_seconds(pattern, passes),
            "passes": len(passes),
            "strikes": strikes,
            "tempos": [min(tempos), max(tempos)] if tempos else [],
            "rungs": [[rung.tempo, rung.clean] for rung in rungs],
            "summary": summary,
        }
    )


SESSION_SUFFIX = ".jsonl"
LONGEST_HEADER = 16 * 2**20
LONGEST_LINE = 4 * 2**20
"""Bytes of a line: far above any real one, low enough for time and memory."""


def read_header(raw: bytes) -> SessionHeader:
    """Return the header that the first line holds."""
    fields = header_fields(raw)
    return SessionHeader(
        pattern=pattern_serial.pattern_from_dict(fields.table("pattern")),
        started=read_moment(fields.text("started")),
        kit=kit_serial.kit_from_dict(fields.table("kit")),
        player=fields.text("player", ""),
        source=fields.text("source", ""),
        tolerance=fields.table("tolerance"),
        course=fields.table("course"),
        timing=fields.table("timing"),
        software=fields.text("software", ""),
    )


def header_fields(raw: bytes) -> Fields:
    """Return the values of the first line, of a version that is read here, still to be checked."""
    row = decode_line(raw, LONGEST_HEADER)
    if not isinstance(row, dict) or row.get("format") != FORMAT:
        raise BadInput("this is no session file", mend="choose a file that the trainer saved")
    return Fields(_upgraded(row), "the header")


_UPGRADES: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""For each older version, the step that turns its header into one of the next version."""


def _upgraded(row: dict[str, Any]) -> dict[str, Any]:
    version = Fields(row, "the header").whole("version", 1, 10**9)
    if version > VERSION:
        raise BadInput(
            f"the file is of format version {version}, this program reads up to {VERSION}",
            mend="install the newer program; the file was left as it is",
        )
    for step in range(version, VERSION):
        row = _UPGRADES[step](row)
    return row


def summary_fields(raw: bytes) -> Fields | None:
    """Return the values of a last line, still to be checked; None where it is no summary."""
    row = decode_line(raw, LONGEST_LINE)
    return Fields(row) if isinstance(row, dict) and row.get("kind") == "summary" else None


def read_moment(text: str) -> datetime:
    """Return a date and time with its zone."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = datetime.min
    if moment.tzinfo is None or not 1970 <= moment.year <= 9000:
        raise BadInput('"started" of the header must be a date and time with its zone')
    return moment


def decode_line(raw: bytes, longest: int, mend: str = "it was damaged or edited") -> Any:
    """Return the JSON value of a line of at most `longest` bytes; else raises BadInput."""
    if len(raw) > longest:
        raise BadInput("the line is too long", mend="this was not written by the trainer")
    try:
        return _DECODER.decode(raw.decode("utf-8"))
    except RecursionError:
        raise BadInput("the line is nested too deeply") from None
    except ValueError:
        raise BadInput("the line is not JSON", mend=mend) from None


def _refuse(_: str) -> NoReturn:
    raise ValueError


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError
    return value


_DECODER = json.JSONDecoder(parse_constant=_refuse, parse_float=_finite)
