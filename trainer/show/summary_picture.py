"""The summary of a session as a picture: each limb's time on an axis, then the words of the screen.

A limb's dot is its mean offset, the bar its 95% interval, the wide band one spread to either side.
Early is on the left, as everywhere; it reads without colour.
"""

from __future__ import annotations

import math
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from trainer.pattern.description import limb_words
from trainer.show.number_words import has_value
from trainer.show.svg import Picture

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

WIDTH, MARGIN, LINE, ROW, LABEL, INDENT = 720, 24, 17, 26, 90, 16
LETTERS, HEADING_LETTERS = 92, 60
"""Letters on a line of text, at 12 and 18 pixels with room to spare in any sans-serif."""

LONGEST_LABEL = 40

KEY = "Time of each limb in ms. Dot: mean. Bar: its 95% interval. Band: one spread either side."


def summary(heading: str, lines: Sequence[str], told: Mapping[str, Any] | None) -> Picture:
    """Return the picture; `told` is the summary, None where only its words are known."""
    limbs = list(_limbs(told))
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
        sheet.text(MARGIN + indent, top + axis + LINE * (place + 1), line, label=label)
    return sheet


def _limbs(told: Mapping[str, Any] | None) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield the limbs whose mean is known."""
    by_limb = told.get("offset", {}).get("by_limb", {}) if told else {}
    yield from ((limb, one) for limb, one in by_limb.items() if has_value(one["mean"]))


def _wrapped(line: str) -> Iterator[tuple[int, str, str]]:
    """Yield a line as lines that fit: how far each is indented, its label, and the rest."""
    text = line.strip()
    indent = INDENT * (text != line.rstrip())
    label, colon, _ = text.partition(": ")
    label = label + colon if colon and len(label) <= LONGEST_LABEL and not indent else ""
    for part in wrap(text, LETTERS - indent // 4) or [""]:
        yield indent, label, part[len(label) :]
        indent, label = INDENT, ""


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
