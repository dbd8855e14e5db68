"""Home in words: a row for each pattern, and the words beside the list.

Patterns that were practised come first, the last one at the top; the others follow by title. A
title that is too long for its row continues below it: patterns differ in their last words. Lines
beside the list end at a word, never inside one.
"""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from trainer.actions.history import continue_tempo
from trainer.actions.requests import COMPUTER_KEYS, SIMULATED_PLAYER
from trainer.console import printable
from trainer.show.ink import padded, shortened, wrapped_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from trainer.actions.history import Known
    from trainer.archive.history import PractisedPattern
    from trainer.archive.session_list import SessionEntry
    from trainer.pattern.library import PatternEntry
    from trainer.show.ink import Line

LEVEL, CLEAN, LAST = 6, 6, 7
"""Columns before the title: the level; after it: the fastest clean tempo, the day it was played."""

NARROWEST_TITLE = 18
"""Columns a title has at least before the level, then the day, give way."""

BAR = 12
"""Columns of the bar that fills up to the weekly aim."""


def in_order(
    entries: Sequence[PatternEntry], practised: Mapping[str, PractisedPattern], wanted: str = ""
) -> list[PatternEntry]:
    """Return the patterns that can be read and whose name, title or tags hold a word, in order."""
    word = wanted.casefold()
    fitting = [
        one
        for one in entries
        if not one.fault and word in " ".join((one.name, one.title, *one.tags)).casefold()
    ]
    by_title = sorted(fitting, key=lambda one: (one.title.casefold(), one.name))
    played = [one for one in by_title if one.name in practised]
    played.sort(key=lambda one: practised[one.name].last, reverse=True)
    return [*played, *(one for one in by_title if one.name not in practised)]


def top_line(first: PatternEntry | None, chosen: PatternEntry | None) -> str:
    """Return what enter does; `first` is where a newcomer begins."""
    if first and first == chosen:
        return f"Start here: enter plays {printable(first.title)}."
    return "Kit trainer: enter practises the pattern chosen"


def none_found(wanted: str) -> str:
    """Return what the list says where no pattern has a word."""
    return f'no pattern with "{printable(wanted)}"; esc shows all'


def heading_row(columns: int) -> str:
    """Return the headings over the rows."""
    return _row(columns, "pattern", "level", "clean", "last")


def pattern_row(
    entry: PatternEntry, practised: PractisedPattern | None, today: date, columns: int
) -> str:
    """Return a pattern's level, title, fastest clean tempo in BPM, and when it was played last.

    The title has the whole width where nothing is beside it, and more lines where it needs them.
    """
    tempo = practised.clean_tempo if practised else None
    clean = f"{tempo:g}" if tempo else ""
    last = last_words(practised.last.astimezone().date(), today) if practised else ""
    return _row(columns, printable(entry.title), str(entry.level or ""), clean, last)


def _row(columns: int, title: str, level: str, clean: str, last: str) -> str:
    """Return a row; in a narrow window the level goes first, then the day."""
    room = columns - LEVEL - CLEAN - LAST
    before = f"{level:^5} " if room >= NARROWEST_TITLE else ""
    beside = clean.rjust(CLEAN) + (last.rjust(LAST) if room + LEVEL >= NARROWEST_TITLE else "")
    beside = beside if beside.strip() else ""
    lines = wrapped_text(title, max(8, columns - len(before) - len(beside)), 0)
    first = before + lines[0]
    lines[0] = padded(first, columns - len(beside)) + beside
    return f"\n{' ' * len(before)}".join(lines)


def last_words(day: date, today: date) -> str:
    """Return when something was played last: "today", "30 Nov", or the year."""
    if day == today:
        return "today"
    return f"{day.day} {day:%b}" if day.year == today.year else str(day.year)


def side_lines(
    known: Known, source: str, chosen: PatternEntry | None, today: date, room: tuple[int, int]
) -> list[Line]:
    """Return what is played on, the last session, the week and the pattern under the cursor.

    `room` is columns and rows. Where the rows are too few the pattern's words end with a sign.
    """
    columns, rows = room
    parts = [
        _wrapped(_source(source, known), columns),
        _wrapped(_last(known.to_continue(source), today), columns),
        _wrapped(_week(known, today), columns),
        _wrapped(_way(known), columns),
        _wrapped(_about(chosen), columns),
    ]
    spare = rows - sum(map(len, parts[:-1]))
    gaps = 1 if spare >= 4 + min(2, len(parts[-1])) else 0
    lines: list[Line] = []
    for part in parts:
        lines += [*([()] if lines and gaps and part else []), *part]
    if len(lines) > rows:
        lines = lines[:rows]
        text, ink = lines[-1][0] if lines and lines[-1] else ("", "plain")
        if text.strip("█░"):
            lines[-1:] = [((shortened(f"{text} {'…' * columns}", columns), ink),)]
    return lines


Said = tuple[str, str]
"""A text and its ink."""


def _wrapped(said: Iterator[Said], columns: int) -> list[Line]:
    return [
        ((part, ink),)
        for text, ink in said
        for part in wrap(printable(text), max(8, columns), break_on_hyphens=False)
    ]


def _source(source: str, known: Known) -> Iterator[Said]:
    names = {COMPUTER_KEYS: "the computer keys", SIMULATED_PLAYER: "a simulated player"}
    yield f"playing on {names.get(source, source)}", "strong"
    yield ("c changes it" if known.ports else "no kit connected; c changes it"), "plain"


def _last(last: SessionEntry | None, today: date) -> Iterator[Said]:
    if last is None:
        yield "nothing played yet", "plain"
        return
    moment = last.started.astimezone()
    yield f"last {last_words(moment.date(), today)}, {moment:%H:%M}", "strong"
    long = f"{last.seconds / 60:.0f} min" if last.seconds >= 120 else f"{last.seconds:.0f} s"
    yield f"{last.title}, {long}", "plain"
    at = continue_tempo(last)
    what = "the ladder" if last.rungs else "it"
    yield f"g continues {what} at {at:g} BPM" if at else "g continues from there", "plain"


def _week(known: Known, today: date) -> Iterator[Said]:
    """Give the minutes of this week, towards the weekly aim where there is one."""
    from trainer.archive.history import minutes_by_day, practised_weeks

    played = [one for one in known.sessions if one.played]
    (week,) = practised_weeks(minutes_by_day(played), today, 1)
    aim = known.weekly_minutes
    of = f" of {aim:g}" if aim else ""
    days = f", {week.days} day{'s' * (week.days != 1)}" if week.days else ""
    yield f"this week {week.minutes:.0f}{of} min{days}", "strong"
    if aim:
        full = min(BAR, int(BAR * week.minutes / aim))
        yield "█" * full + "░" * (BAR - full), "plain"


def _way(known: Known) -> Iterator[Said]:
    """Give the step to practise next on the way that was practised last."""
    one = known.way
    if one and one.here:
        step = one.here.step
        title = next((e.title for e in known.patterns if e.name == step.pattern), step.pattern)
        yield f"{one.way.title}, step {(one.place or 0) + 1} of {len(one.steps)}", "strong"
        yield f"{title}, clean at {step.tempo:g} BPM; w opens it", "plain"


def _about(entry: PatternEntry | None) -> Iterator[Said]:
    if entry is None:
        return
    yield entry.title, "strong"
    tags = ", ".join(entry.tags)
    level = f"level {entry.level}" if entry.level else ""
    if words := ", ".join(filter(None, (level, tags))):
        yield words, "plain"
    if entry.about:
        yield entry.about, "plain"
