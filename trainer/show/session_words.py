"""A session in words: what was played when, the result, and what happened on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.archive.session import played_seconds
from trainer.archive.summary import summary_differences
from trainer.errors import TrainerError
from trainer.show import reading_words
from trainer.show.number_words import count_text, offset_text
from trainer.show.reading_differences import fitted_lines

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date, datetime

    from trainer.actions.replay import OpenedSession, ReplayStep
    from trainer.archive.history import Trend
    from trainer.archive.recovery import Recovery
    from trainer.archive.session import RungResult, Session, SessionMark
    from trainer.archive.session_list import SessionEntry

MARK_WORDS = {
    "pause": "paused",
    "resume": "continued",
    "unplugged": "kit unplugged",
    "plugged": "kit back",
    "stall": "the program was too slow",
}


TREND_WORDS = {
    "tempo_high": ("fastest pass", "BPM", ".0f"),
    "errors_percent": ("missed or on a wrong pad", "%", ".1f"),
    "offset_ms": ("offset", "ms", ".0f"),
    "spread_ms": ("spread", "ms", ".0f"),
    "evenness_ms": ("intervals vary by", "ms", ".0f"),
    "gap_ms": ("gap between hands and feet", "ms", ".0f"),
    "power_uneven": ("equal strokes vary by", "of 127", ".0f"),
}
"""What each trend is called, its unit, and how its numbers are written."""


def trend_words(trend: Trend) -> str:
    """Return a trend in words: "spread: 14 ms at first, 11 ms now"."""
    words, unit, form = TREND_WORDS[trend.name]
    if trend.name == "offset_ms":
        return f"{words}: {offset_text(trend.first)} at first, {offset_text(trend.last)} now"
    first, last = (
        f"{one:{form}}{unit}" if unit == "%" else f"{one:{form}} {unit}"
        for one in (trend.first, trend.last)
    )
    return f"{words}: {first} at first, {last} now"


def date_words(moment: datetime, today: date | None = None) -> str:
    """Return a date and time in short, "1 Mar, 18:30"; the year unless it is that of `today`."""
    year = "" if today and today.year == moment.year else f" {moment.year}"
    return f"{moment.day} {moment:%b}{year}, {moment:%H:%M}"


def day_words(moment: date) -> str:
    """Return a day in short: 1 Mar 2026."""
    return f"{moment.day} {moment:%b} {moment.year}"


def duration_words(seconds: float) -> str:
    """Return a time in seconds below two minutes, else in minutes."""
    whole, unit = (round(seconds), "second") if seconds < 120 else (round(seconds / 60), "minute")
    return count_text(whole, unit)


def tempo_words(low: float, high: float) -> str:
    """Return a range of tempos: 80 BPM, or 80 to 96 BPM."""
    return f"{low:g} BPM" if low == high else f"{low:g} to {high:g} BPM"


def empty_session_words(entry: SessionEntry) -> str:
    """Return why there are no figures of a session, empty where there are."""
    if not entry.finished:
        return "still running, or cut off"
    return "" if entry.strikes else "nothing played"


def recovered_words(found: Recovery) -> str:
    """Say that a session was cut off and is finished now."""
    if isinstance(found, TrainerError):
        return str(found)
    session = found.session
    minutes = played_seconds(session.pattern, session.passes) / 60
    return (
        f"The session of {session.header.started:%d %B, %H:%M} was cut off. It is finished now: "
        f"{session.pattern.title}, {len(session.strikes)} strokes, {minutes:.1f} minutes "
        f"({found.path.name})."
    )


def opening_words(step: ReplayStep) -> str:
    """Say what is being done while a session is opened."""
    if step.kind == "search":
        return "looking through the folder"
    verb = {"read": "reading", "judge": "judging", "measure": "measuring"}[step.kind]
    return f"{verb} {step.name or f'{step.strokes} strokes'}"


def opened_remarks(opened: OpenedSession) -> Iterator[str]:
    """Give what should be known about a session's file beside its numbers."""
    session = opened.session
    if session.summary is None:
        yield "This session was cut off: it is judged up to its last stroke."
        return
    differing = sorted(summary_differences(session.summary, opened.summary))
    if differing:
        yield (
            f"Judged again, {len(differing)} numbers differ from those saved at the time"
            f" (the first: {differing[0]}). The file was saved by version"
            f" {session.header.software}."
        )


def session_lines(
    session: Session, summary: dict[str, Any], *, full: bool = False
) -> Iterator[str]:
    """Yield a session line by line; `summary` is the reading as computed now.

    `full` adds every group of the reading.
    """
    yield _title(session)
    yield _played(session)
    yield from damaged_words(session.damaged)
    yield from reading_words.reading_lines(summary, full=full)
    for rung in session.rungs:
        yield from _rung(rung)
    yield from (_mark(mark) for mark in session.marks if mark.kind in MARK_WORDS)


def damaged_words(numbers: tuple[int, ...]) -> Iterator[str]:
    """Yield which lines of the file were skipped and what that does to the figures."""
    for number in numbers:
        yield (
            f"Line {number} of the file is damaged and was skipped. It held a stroke, which may "
            "count as missed. The file is unchanged."
        )


def _title(session: Session) -> str:
    header = session.header
    by = f", {header.player}" if header.player else ""
    return f"{date_words(header.started)}{by}, on {session.kit.title}."


def _played(session: Session) -> str:
    if not session.passes:
        return "No pass was started."
    return f"Played for {duration_words(played_seconds(session.pattern, session.passes))}."


def _rung(rung: RungResult) -> Iterator[str]:
    head = f"Rung {rung.index + 1}, {rung.tempo:g} BPM"
    if rung.clean:
        yield f"{head}: clean."
    else:
        yield from fitted_lines(f"{head}, not clean", rung.failed or ("no reason saved",))


def _mark(mark: SessionMark) -> str:
    reason = f" ({mark.reason})" if mark.reason else ""
    return f"At {mark.time_s:.1f} s {MARK_WORDS[mark.kind]}{reason}."
