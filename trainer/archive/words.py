"""A session in words: what was played when, how it went, and what happened on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.archive.session import played_seconds
from trainer.measure import words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from trainer.archive.session import Mark, Rung, Session

MARK_WORDS = {
    "pause": "paused",
    "resume": "went on",
    "unplugged": "kit unplugged",
    "plugged": "kit back",
    "stall": "the program was held up",
}


def day(moment: datetime) -> str:
    """Return a date and time as a player reads it: 1 March 2026, 18:30."""
    return f"{moment.day} {moment:%B %Y, %H:%M}"


def length(seconds: float) -> str:
    """Return a time in seconds below two minutes, else in minutes."""
    return f"{seconds:.0f} seconds" if seconds < 120 else f"{seconds / 60:.0f} minutes"


def bpm(low: float, high: float) -> str:
    """Return a range of tempos: 80 BPM, or 80 to 96 BPM."""
    return f"{low:g} BPM" if low == high else f"{low:g} to {high:g} BPM"


def session_lines(session: Session, summary: dict[str, Any]) -> Iterator[str]:
    """Give the whole session line by line; `summary` is the reading as it is judged now."""
    yield _title(session)
    yield _played(session)
    yield from words.lines(summary, full=True)
    yield from (_rung(rung) for rung in session.rungs)
    yield from (_mark(mark) for mark in session.marks)


def _title(session: Session) -> str:
    header = session.header
    by = f", played by {header.player}" if header.player else ""
    return f"{header.pattern.title}{by}, {day(header.started)}"


def _played(session: Session) -> str:
    tempos = [one.tempo for one in session.passes]
    if not tempos:
        return "No pass was begun."
    count = len(tempos)
    return (
        f"{count} {'pass' if count == 1 else 'passes'} at {bpm(min(tempos), max(tempos))},"
        f" {length(played_seconds(session.pattern, session.passes))},"
        f" on {session.kit.title}."
    )


def _rung(rung: Rung) -> str:
    how = "clean" if rung.clean else "not clean: " + ("; ".join(rung.failed) or "no reason given")
    return f"Rung {rung.index + 1}, {rung.tempo:g} BPM: {how}."


def _mark(mark: Mark) -> str:
    reason = f" ({mark.reason})" if mark.reason else ""
    return f"At {mark.time_s:.1f} s {MARK_WORDS.get(mark.kind, mark.kind)}{reason}."
