"""The history and the summary as pictures to send to someone; both read without colour.

The history has one panel a pattern. In each panel time runs to the right and tempo upward. A dot is
the fastest pass of a session, the line is the ceiling (the tempo at which half the rungs are clean)
with its interval as a band. Below the panels are the minutes of each week.

The summary has each limb's time on an axis, then the words of the screen. A limb's dot is its mean
offset, the bar its 95% interval, the wide band one spread to either side. Early is on the left, as
everywhere.
"""

from __future__ import annotations

import math
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from trainer.archive.ceilings import climbs
from trainer.archive.history import histories_by_pattern, minutes_by_day, practised_weeks
from trainer.pattern.description import limb_words
from trainer.show import drawing
from trainer.show.number_words import count_text, has_value
from trainer.show.session_words import day_words, duration_words
from trainer.show.svg import Picture

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from datetime import date, datetime
    from xml.etree.ElementTree import Element

    from trainer.archive.ceilings import Climb
    from trainer.archive.history import PatternHistory
    from trainer.archive.session_list import SessionEntry


HISTORY_WIDTH, PANEL, LEFT, RIGHT, TOP, FOOT = 720, 220, 56, 20, 40, 34
MOST_PANELS, MOST_DOTS = 12, 400
HIGHEST_GOAL = 1.25
"""Goals above this share of the fastest tempo are left out."""
LEGEND = "BPM. Dot: fastest clean (ring: not known). ×: slowest not clean. Line, band: ceiling."

WEEKS, WEEK_WIDE, WEEK_TALL, WEEK_FOOT, WEEKS_HIGH = 48, 13, 90, 136, 170

Place = tuple[float, float]


def history_picture(
    entries: Sequence[SessionEntry],
    today: date,
    goals: Callable[[Sequence[SessionEntry]], Sequence[tuple[str, float]]] = lambda _own: (),
) -> Picture:
    """Return the picture of some sessions, the pattern played last at the top.

    `goals` gives the names and tempos (BPM) of what one pattern's sessions count for.
    """
    histories = [one for one in histories_by_pattern(entries) if one.tempos][::-1][:MOST_PANELS]
    sheet = Picture(HISTORY_WIDTH, PANEL * max(1, len(histories)) + WEEKS_HIGH, "History")
    for row, one in enumerate(histories):
        _panel(_moved(sheet, PANEL * row), one, sheet, goals(one.entries))
    if not histories:
        sheet.text(LEFT, TOP, "No session with a pass.")
    _weeks(_moved(sheet, PANEL * max(1, len(histories))), entries, today, sheet)
    return sheet


def _moved(sheet: Picture, down: float) -> Element:
    """Return a group `down` pixels lower."""
    group = sheet.group()
    group.set("transform", f"translate(0 {down:g})")
    return group


def _panel(
    group: Element, history: PatternHistory, sheet: Picture, goals: Sequence[tuple[str, float]]
) -> None:
    """Draw one panel; goals are names and tempos, those too far from it are left out."""
    found = climbs(history.entries)
    low, high = _bounds(history, found, [tempo for _, tempo in goals])
    goals = [(f"{name} {tempo:.0f}", tempo) for name, tempo in goals if low <= tempo <= high]
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
        _session(group, entry, place, sheet)
    for name, tempo in goals:
        _goal(group, name, place(history.entries[0].started, tempo)[1], sheet)


def _session(
    group: Element, entry: SessionEntry, place: Callable[[datetime, float], Place], sheet: Picture
) -> None:
    """Draw a session: its fastest clean tempo, and a cross at the slowest rung that was not."""
    if not entry.tempos:
        return
    own = [tempo for tempo, is_clean in entry.rungs if is_clean]
    clean = entry.clean_tempo or max(own, default=None)
    x, y = place(entry.started, clean or entry.tempos[1])
    if clean or not entry.rungs:
        kind = "dot" if clean else "ring"
        sheet.shape("circle", kind, group, cx=x, cy=y, r=2.5)
    failed = [tempo for tempo, is_clean in entry.rungs if not is_clean]
    if failed:
        x, y = place(entry.started, min(failed))
        for up in (-3, 3):
            sheet.shape("line", "cross", group, x1=x - 3, y1=y - up, x2=x + 3, y2=y + up)


def _goal(group: Element, name: str, y: float, sheet: Picture) -> None:
    """Draw a goal's line across, its name at the left end."""
    ends = {"x1": LEFT, "x2": HISTORY_WIDTH - RIGHT, "y1": y, "y2": y}
    sheet.shape("line", "goal", group, **ends)
    sheet.text(LEFT + 12, y - 3, name, "faint", parent=group)


def _bounds(
    history: PatternHistory, found: Sequence[Climb], goals: Sequence[float]
) -> tuple[float, float]:
    """Return the tempos at the foot and at the top of a panel: tens around all that is drawn."""
    drawn = [entry.tempos[1] for entry in history.entries if entry.tempos]
    drawn += [then.half.tempo for climb in found for _, then in climb.curve()]
    drawn += [tempo for one in history.entries for tempo, _ in one.rungs]
    drawn += [goal for goal in goals if min(drawn) / 2 < goal <= HIGHEST_GOAL * max(drawn)]
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
            LEFT + 8 + along * (HISTORY_WIDTH - LEFT - RIGHT - 16),
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
        sheet.shape("line", "axis", group, x1=LEFT, x2=HISTORY_WIDTH - RIGHT, y1=y, y2=y)
        sheet.text(LEFT - 8, y + 4, str(tempo), anchor="end", parent=group)
    foot = PANEL - FOOT + 18
    sheet.text(LEFT, foot, day_words(first), parent=group)
    sheet.text(HISTORY_WIDTH - RIGHT, foot, day_words(last), anchor="end", parent=group)


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


WIDTH, MARGIN, LINE, ROW, LABEL, INDENT = 720, 24, 17, 26, 90, 16
LETTERS, HEADING_LETTERS = 92, 60
"""Letters on a line of text, at 12 and 18 pixels with room to spare in any sans-serif."""

LONGEST_LABEL = 40

KEY = "Time of each limb in ms. Dot: mean. Bar: its 95% interval. Band: one spread either side."


def summary(heading: str, lines: Sequence[str], reported: Mapping[str, Any] | None) -> Picture:
    """Return the picture; `reported` is the summary, None where only its words are known."""
    limbs = list(_limbs(reported))
    words = [part for line in lines for part in _wrapped(line)]
    head = wrap(heading, HEADING_LETTERS)
    axis = ROW * (len(limbs) + 1) + 3 * LINE if limbs else 0
    top = MARGIN + 24 * len(head)
    sheet = Picture(WIDTH, top + axis + LINE * (len(words) + 1) + MARGIN, heading)
    for place, part in enumerate(head):
        sheet.text(MARGIN, MARGIN + 14 + 24 * place, part, "heading")
    if limbs:
        _times(sheet, limbs, top + LINE)
    for place, (indent, label, line) in enumerate(words):
        kind = "columns" if drawing.STAIR_AXIS in line else ""
        sheet.text(MARGIN + indent, top + axis + LINE * (place + 1), line, kind, label=label)
    return sheet


def _limbs(reported: Mapping[str, Any] | None) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield the limbs whose mean is known."""
    by_limb = reported.get("offset", {}).get("by_limb", {}) if reported else {}
    yield from ((limb, one) for limb, one in by_limb.items() if has_value(one["mean"]))


def _wrapped(line: str) -> Iterator[tuple[int, str, str]]:
    """Yield a line as lines that fit: how far each is indented, its label, and the rest."""
    text = line.strip()
    indent = INDENT * ((len(line.rstrip()) - len(text) + 1) // 2)
    label, colon, _ = text.partition(": ")
    label = label + colon if colon and len(label) <= LONGEST_LABEL and not indent else ""
    for part in wrap(text, LETTERS - indent // 4) or [""]:
        yield indent, label, part[len(label) :]
        indent, label = max(indent, INDENT), ""


def _times(sheet: Picture, limbs: Sequence[tuple[str, Mapping[str, Any]]], top: int) -> None:
    """Draw a row for each limb over an axis from early to late."""
    end = _end(limbs)
    middle, half = (MARGIN + LABEL + WIDTH - MARGIN) / 2, (WIDTH - 2 * MARGIN - LABEL) / 2

    def x(ms: float) -> float:
        return middle + half * max(-1.0, min(1.0, ms / end))

    for row, (limb, one) in enumerate(limbs):
        _limb(sheet, limb_words(limb), one, x, top + ROW * row + ROW // 2)
    foot = top + ROW * len(limbs)
    sheet.shape("path", "axis", d=f"M{x(-end):g} {foot}H{x(end):g}M{middle:g} {top}V{foot + 5}")
    ends = ((-end, f"{end:g} early", "start"), (0, "0", "middle"), (end, f"late {end:g}", "end"))
    for ms, text, anchor in ends:
        sheet.text(x(ms), foot + 17, text, "faint", anchor)
    sheet.text(MARGIN, foot + ROW + LINE, KEY, "faint")


def _end(limbs: Sequence[tuple[str, Mapping[str, Any]]]) -> float:
    """Return where the axis ends: a ten of milliseconds beyond all that is drawn."""
    reach = 10.0
    for _, one in limbs:
        spread = one["spread"]["value"] if has_value(one["spread"]) else 0.0
        reach = max(reach, abs(one["mean"]["value"]) + spread)
    return 10.0 * math.ceil(reach / 10)


def _limb(
    sheet: Picture, name: str, one: Mapping[str, Any], x: Callable[[float], float], y: int
) -> None:
    mean, spread = one["mean"], one["spread"]
    sheet.text(MARGIN, y + 4, name)
    if has_value(spread):
        left, right = x(mean["value"] - spread["value"]), x(mean["value"] + spread["value"])
        sheet.shape("rect", "band", x=left, y=y - 7, width=right - left, height=14)
    if None not in (mean["low"], mean["high"]):
        sheet.shape("path", "line", d=f"M{x(mean['low']):.6g} {y}H{x(mean['high']):.6g}")
    sheet.shape("circle", "dot", cx=x(mean["value"]), cy=y, r=3.5)
