"""The format of a session file, and its lines written from values.

Nothing of the disk is in here. A file is JSON lines. Line 1 is the header, with all that is needed
to judge the session again. Then come, as they happen:

    [12.3456, 38, 101]               a raw strike: seconds, note, velocity (0: a choke), position
    {"kind": "pass", ...}          a pass begins: index, tempo, start_s, rung, from_s, click_late_s
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

A history reads only the first and the last line. What a line may hold, and how it is read, is in
`trainer.archive.session_lines`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.archive.session import LONGEST_LINE, LONGEST_TEXT, MOST_RUNGS, played_seconds
from trainer.archive.session_lines import FORMAT, MOST_CLICK_LATE_S, VERSION
from trainer.kit.model import kit_to_dict
from trainer.pattern.json_data import pattern_to_dict
from trainer.typed_json import encode

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.archive.session import RungResult, SentClick, SessionHeader, SessionMark
    from trainer.kit.hits import Strike
    from trainer.midi.hit_source import Control
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Pass


def json_line(row: Any) -> bytes:
    """Return one line of the file. Plain ASCII, so that no text can break a line or a terminal."""
    return encode(row) + b"\n"


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
            "kit": kit_to_dict(header.kit),
            "pattern": pattern_to_dict(header.pattern),
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
    row |= {} if one.from_s is None else {"from_s": one.from_s}
    late_s = min(max(one.click_late_s, -MOST_CLICK_LATE_S), MOST_CLICK_LATE_S)
    return json_line(row | ({"click_late_s": late_s} if late_s else {}))


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
            "failed": [text[:LONGEST_TEXT] for text in rung.failed],
            "time_s": rung.time_s,
            "tightest": rung.tightest[:LONGEST_TEXT],
            "strokes": rung.strokes,
        }
    )


def mark_line(mark: SessionMark) -> bytes:
    """Return the line of a pause, a resumption, an unplugging or a stall."""
    row: dict[str, Any] = {"kind": mark.kind, "time_s": mark.time_s}
    row["reason"] = mark.reason[:LONGEST_TEXT]
    return json_line(row | ({"seconds": mark.seconds} if mark.seconds else {}))


def summary_line(
    summary: dict[str, Any],
    pattern: Pattern,
    passes: Sequence[Pass],
    strikes: int,
    rungs: Sequence[RungResult],
    *,
    recovered: bool = False,
    clean_tempo: float | None = None,
) -> bytes:
    """Return the last line: the summary, and a digest by which histories need not read the rest.

    `clean_tempo` is the fastest tempo that was clean, in BPM.

    A summary too long to be read again is left out; it is computed again from the strokes.
    """
    tempos = [one.tempo for one in passes]
    line = json_line(
        {
            "kind": "summary",
            "recovered": recovered,
            "seconds": played_seconds(pattern, passes),
            "passes": len(passes),
            "strikes": strikes,
            "tempos": [min(tempos), max(tempos)] if tempos else [],
            "rungs": [[rung.tempo, rung.clean] for rung in rungs[-MOST_RUNGS:]],
            "clean_tempo": clean_tempo,
            "last_tempo": tempos[-1] if tempos else None,
            "summary": summary,
        }
    )
    if len(line) > LONGEST_LINE and summary:
        return summary_line(
            {}, pattern, passes, strikes, rungs, recovered=recovered, clean_tempo=clean_tempo
        )
    return line
