"""The history as a picture to send to someone: one panel a pattern.

In each panel time runs to the right and tempo upward. A dot is the fastest pass of a session, the
line is the ceiling (the tempo at which half the rungs are clean) with its interval as a band. Below
the panels are the minutes of each week. It reads without colour.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from trainer.archive.ceilings import climbs
from trainer.archive.history import histories_by_pattern, minutes_by_day, practised_weeks
from trainer.show.number_words import count_text
from trainer.show.session_words import day_words, duration_words
from trainer.show.svg import Picture

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date, datetime
    from xml.etree.ElementTree import Element

    from trainer.archive.ceilings import Climb
    from trainer.archive.history import PatternHistory
    from trainer.archive.session_list import SessionEntry

WIDTH, PANEL, LEFT, RIGHT, TOP, FOOT = 720, 220, 56, 20, 40, 34
MOST_PANELS, MOST_DOTS = 12, 400
LEGEND = "Tempo in BPM. Dots: the fastest pass. Line: the ceiling. Band: its 90% interval."

WEEKS, WEEK_WIDE, WEEK_TALL, WEEK_FOOT, WEEKS_HIGH = 48, 13, 90, 136, 170

Place = tuple[float, float]


def history_picture(entries: Sequence[SessionEntry], today: date) -> Picture:
    """Return the picture of some sessions, the pattern played last at the top."""
    histories = [one for one in histories_by_pattern(entries) if one.tempos][::-1][:MOST_PANELS]
    sheet = Picture(WIDTH, PANEL * max(1, len(histories)) + WEEKS_HIGH, "History")
    for row, one in enumerate(histories):
        _panel(_moved(sheet, PANEL * row), one, sheet)
    if not histories:
        sheet.text(LEFT, TOP, "No session with a pass.")
    _weeks(_moved(sheet, PANEL * max(1, len(histories))), entries, today, sheet)
    return sheet


def _moved(sheet: Picture, down: float) -> Element:
    """Return a group `down` pixels lower."""
    group = sheet.group()
    group.set("transform", f"translate(0 {down:g})")
    return group


def _panel(group: Element, history: PatternHistory, sheet: Picture) -> None:
    """Draw one panel."""
    found = climbs(history.entries)
    low, high = _bounds(history, found)
    place = _scale(history, low, high)
    count = len(history.entries)
    sessions = count_text(count, "session")
    sheet.text(LEFT, 18, history.title, "strong", parent=group)
    sheet.text(LEFT, 33, f"{sessions}, {duration_words(history.seconds)}. {LEGEND}", parent=group)
    _axes(group, history, (low, high), place, sheet)
    for climb in found:
        _ceiling(group, climb, (low, high), place, sheet)
    step = max(1, math.ceil(count / MOST_DOTS))
    for entry in history.entries[::step]:
        if entry.tempos:
            x, y = place(entry.started, entry.tempos[1])
            sheet.shape("circle", "dot", group, cx=x, cy=y, r=2.5)


def _bounds(history: PatternHistory, found: Sequence[Climb]) -> tuple[float, float]:
    """Return the tempos at the foot and at the top of a panel: tens around all that is drawn."""
    drawn = [entry.tempos[1] for entry in history.entries if entry.tempos]
    drawn += [then.half.tempo for climb in found for _, then in climb.curve()]
    low, high = min(drawn), max(drawn)
    return 10.0 * math.floor(low / 10 - 0.1), 10.0 * math.ceil(high / 10 + 0.1)


def _scale(history: PatternHistory, low: float, high: float) -> Callable[[datetime, float], Place]:
    """Return what turns a moment and a tempo into a place in the panel."""
    first, last = history.entries[0].started, history.entries[-1].started
    span = (last - first).total_seconds() or 1.0

    def place(moment: datetime, tempo: float) -> Place:
        along = (moment - first).total_seconds() / span
        up = (min(max(tempo, low), high) - low) / (high - low)
        return (
            LEFT + 8 + along * (WIDTH - LEFT - RIGHT - 16),
            PANEL - FOOT - up * (PANEL - TOP - FOOT),
        )

    return place


def _axes(
    group: Element,
    history: PatternHistory,
    ends: tuple[float, float],
    place: Callable[[datetime, float], Place],
    sheet: Picture,
) -> None:
    """Draw the tempos on the left and the days at the foot."""
    first, last = history.entries[0].started, history.entries[-1].started
    low, high = ends
    step = 10 * max(1, math.ceil((high - low) / 60))
    for tempo in range(int(low), int(high) + 1, step):
        _, y = place(first, tempo)
        sheet.shape("line", "axis", group, x1=LEFT, x2=WIDTH - RIGHT, y1=y, y2=y)
        sheet.text(LEFT - 8, y + 4, str(tempo), anchor="end", parent=group)
    foot = PANEL - FOOT + 18
    sheet.text(LEFT, foot, day_words(first), parent=group)
    sheet.text(WIDTH - RIGHT, foot, day_words(last), anchor="end", parent=group)


def _ceiling(
    group: Element,
    climb: Climb,
    ends: tuple[float, float],
    place: Callable[[datetime, float], Place],
    sheet: Picture,
) -> None:
    """Draw the band and the line of one player's ceiling."""
    curve = climb.curve()
    if not curve:
        return
    low, high = ends
    tops = [place(when, high if one.half.open_above else one.half.high) for when, one in curve]
    feet = [place(when, low if one.half.open_below else one.half.low) for when, one in curve]
    middle = [place(when, one.half.tempo) for when, one in curve]
    sheet.shape("polygon", "band", group, points=_points(tops + feet[::-1]))
    sheet.shape("polyline", "line", group, points=_points(middle))
    x, y = middle[-1]
    who = f"{climb.player}: " if climb.player else ""
    label = f"{who}ceiling {curve[-1][1].half.tempo:.0f}"
    sheet.text(x, min(y + 36, PANEL - FOOT - 4), label, "named", "end", group)


def _points(places: Sequence[Place]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in places)


def _weeks(group: Element, entries: Sequence[SessionEntry], today: date, sheet: Picture) -> None:
    """Draw the minutes of each week as a bar, with the days played above it."""
    weeks = practised_weeks(minutes_by_day(entries), today, WEEKS)
    total, most = sum(one.minutes for one in weeks), max(one.minutes for one in weeks)
    head = f"{total:.0f} minutes in {WEEKS} weeks, a bar a week. Above: days played."
    sheet.text(LEFT, 18, head, "strong", parent=group)
    sheet.text(LEFT - 8, WEEK_FOOT - WEEK_TALL + 4, f"{most:.0f} min", "faint", "end", group)
    for column, week in enumerate(weeks):
        x = LEFT + WEEK_WIDE * column
        if week.monday.day <= 7:
            sheet.text(x, WEEK_FOOT + 16, f"{week.monday:%b}", "faint", parent=group)
        if week.days:
            tall = WEEK_TALL * week.minutes / most if most else 0.0
            y = WEEK_FOOT - tall
            sheet.shape("rect", "dot", group, x=x, y=y, width=WEEK_WIDE - 3, height=tall)
            sheet.text(x + 5, y - 4, str(week.days), "faint", "middle", group)
