"""The history as a picture to send to someone: an SVG, one panel a pattern.

In each panel time runs to the right and tempo upward. A dot is the fastest pass of a session, the
line is the ceiling (the tempo at which half the rungs are clean) with its interval as a band. It is
drawn in black, grey and one blue, and reads without colour.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from trainer import report
from trainer.archive.ceilings import climbs
from trainer.archive.history import by_pattern

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import datetime

    from trainer.archive.ceilings import Climb
    from trainer.archive.history import PatternHistory
    from trainer.archive.index import Entry

WIDTH, PANEL, LEFT, RIGHT, TOP, FOOT = 720, 220, 56, 20, 40, 34
MOST_PANELS, MOST_DOTS = 12, 400
BLUE = "#1f5fa8"
LEGEND = "Tempo in BPM; dots: the fastest pass; line: the ceiling with its 90 % interval."

Place = tuple[float, float]


def svg(entries: Sequence[Entry]) -> str:
    """Return the picture of some sessions, the pattern played last at the top."""
    histories = [one for one in by_pattern(entries) if one.tempos][::-1][:MOST_PANELS]
    height = PANEL * max(1, len(histories))
    body = [
        f'<g transform="translate(0 {PANEL * row})">{"".join(_panel(one))}</g>'
        for row, one in enumerate(histories)
    ] or [_text(LEFT, TOP, "No session with a pass.")]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}"'
        f' width="{WIDTH}" height="{height}" font-family="sans-serif" font-size="12">\n'
        f'<rect width="{WIDTH}" height="{height}" fill="white"/>\n' + "\n".join(body) + "\n</svg>\n"
    )


def _panel(history: PatternHistory) -> Iterator[str]:
    """Give the parts of one panel."""
    found = climbs(history.entries)
    low, high = _bounds(history, found)
    place = _scale(history, low, high)
    count, minutes = len(history.entries), history.seconds / 60
    yield _text(LEFT, 18, history.title, weight="bold")
    yield _text(LEFT, 33, f"{count} sessions, {minutes:.0f} minutes. {LEGEND}")
    yield from _axes(history, low, high, place)
    for climb in found:
        yield from _ceiling(climb, low, high, place)
    step = max(1, math.ceil(count / MOST_DOTS))
    for entry in history.entries[::step]:
        if entry.tempos:
            x, y = place(entry.started, entry.tempos[1])
            yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.5" fill="black"/>'


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
    history: PatternHistory, low: float, high: float, place: Callable[[datetime, float], Place]
) -> Iterator[str]:
    first, last = history.entries[0].started, history.entries[-1].started
    step = 10 * max(1, math.ceil((high - low) / 60))
    for tempo in range(int(low), int(high) + 1, step):
        _, y = place(first, tempo)
        yield f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#ccc"/>'
        yield _text(LEFT - 8, y + 4, str(tempo), anchor="end")
    foot = PANEL - FOOT + 18
    yield _text(LEFT, foot, f"{first:%Y-%m-%d}")
    yield _text(WIDTH - RIGHT, foot, f"{last:%Y-%m-%d}", anchor="end")


def _ceiling(
    climb: Climb, low: float, high: float, place: Callable[[datetime, float], Place]
) -> Iterator[str]:
    """Give the band and the line of one player's ceiling."""
    curve = climb.curve()
    if not curve:
        return
    tops = [place(when, high if one.half.open_above else one.half.high) for when, one in curve]
    feet = [place(when, low if one.half.open_below else one.half.low) for when, one in curve]
    middle = [place(when, one.half.tempo) for when, one in curve]
    yield f'<polygon points="{_points(tops + feet[::-1])}" fill="{BLUE}" fill-opacity="0.15"/>'
    yield f'<polyline points="{_points(middle)}" fill="none" stroke="{BLUE}" stroke-width="2"/>'
    x, y = middle[-1]
    who = f"{climb.player}: " if climb.player else ""
    label = f"{who}ceiling {curve[-1][1].half.tempo:.0f}"
    yield _text(x, y + 36, label, anchor="end", fill=BLUE)


def _points(places: Sequence[Place]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in places)


def _text(
    x: float,
    y: float,
    text: str,
    anchor: str = "start",
    weight: str = "normal",
    fill: str = "black",
) -> str:
    """Return a text, which may come from a stranger's file, as nothing but text."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-weight="{weight}"'
        f' fill="{fill}">{escape(report.plain(text))}</text>'
    )
