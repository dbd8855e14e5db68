"""The lines of a reading that compare, and which differences are more than chance would do.

Compared are limbs, moves, hands, note values, earlier and later. Each difference is shown with its
95% interval and with how many strokes it is from, and only where its key is among `sure`.

A 95% interval that leaves out zero is wrong once in twenty. A summary compares dozens of things
(every move three times, every change of note value, the limp, the trends), so one or more of them
would nearly always be shown for a player who has none. All of them are therefore tested together,
and a difference is shown only where chance does as much in under 5% of takes: Holm's step-down
(S. Holm 1979, A simple sequentially rejective multiple test procedure, Scand. J. Statist. 6:65-70).

How likely chance is to make a figure is computed from its interval: half the interval on the side
of zero is a quantile of Student's t with one degree of freedom fewer than the figure's count, and
the tail of that is taken through the normal law by Wallace (1959, Ann. Math. Statist.
30:1121-1130). So it works on any summary that was ever saved.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING

from trainer.console import WIDEST_LINE
from trainer.measure.threshold import t_quantile
from trainer.pattern.description import limb_words, value_words, voice_words
from trainer.show.number_words import (
    Summary,
    duration_text,
    few_text,
    has_value,
    interval_text,
    percent_text,
)

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Mapping, Sequence


SUMMARY_ALPHA = 0.05
"""How often a summary may show a difference to a player who has none."""

MOVE_COSTS = ("later", "wider", "errors_more")
TREND_NAMES = ("spread", "power", "errors")


def significant_keys(summary: Summary) -> frozenset[str]:
    """Return the keys of the differences that are shown, by their names in `reading_keys`."""
    figures = dict(_tested_figures(summary))
    likely = sorted((_chance_of_figure(figure), key) for key, figure in figures.items())
    found: list[str] = []
    for place, (chance, key) in enumerate(likely):
        if chance > SUMMARY_ALPHA / (len(likely) - place):
            break
        found.append(key)
    return frozenset(found)


def _tested_figures(summary: Summary) -> Iterator[tuple[str, Summary]]:
    """Yield everything that is compared with zero, by its key."""
    for key, figure in _all_differences(summary):
        if has_value(figure) and figure["low"] is not None and figure["high"] is not None:
            yield key, figure


def _all_differences(summary: Summary) -> Iterator[tuple[str, Summary]]:
    yield "offset.drift", summary["offset"]["drift"]
    for kind, gap in summary["unisons"]["by_kind"].items():
        yield f"unisons.by_kind.{kind}.mean", gap["mean"]
    for name, move in summary["moves"]["by_move"].items():
        yield from ((f"moves.by_move.{name}.{cost}", move[cost]) for cost in MOVE_COSTS)
    yield "evenness.lope", summary["evenness"]["lope"]
    for name, jump in summary["evenness"]["changes"].items():
        yield f"evenness.changes.{name}", jump
    yield "power.balance", summary["power"]["balance"]
    yield from _trend_differences(summary["staying"])


def _trend_differences(staying: Mapping[str, Summary]) -> Iterator[tuple[str, Summary]]:
    yield from ((f"staying.rung.{name}", staying["rung"][name]) for name in TREND_NAMES)
    if staying["session"] != staying["rung"]:
        yield from ((f"staying.session.{name}", staying["session"][name]) for name in TREND_NAMES)


def _chance_of_figure(figure: Summary) -> float:
    """Return how likely a figure at least as far from zero is where there is nothing (0 to 1)."""
    value, free = abs(figure["value"]), max(1.0, figure["count"] - 1.0)
    half = value - (figure["low"] if figure["value"] > 0 else -figure["high"])
    if half <= 0.0:
        return 0.0 if value else 1.0
    t = value / half * t_quantile(0.975, free)
    z = (8 * free + 1) / (8 * free + 3) * math.sqrt(free * math.log1p(t * t / free))
    return 2.0 * (1.0 - NormalDist().cdf(z))


MOST_SHOWN = 2
"""How many moves and changes are shown; the full text has them all."""


def fitted_lines(head: str, parts: Sequence[str]) -> Iterator[str]:
    """Yield "head: part; part." on one line, or each part on a line of its own below the head."""
    if not parts:
        return
    whole = f"{head}: {'; '.join(parts)}."
    if len(whole) <= WIDEST_LINE:
        yield whole
        return
    indent = " " * (len(head) - len(head.lstrip()) + 2)
    yield f"{head}:"
    yield from (f"{indent}{part}" for part in parts)


def unison_lines(kinds: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Yield how far apart unisons are, how many are heard one after the other, who is first."""
    for kind, gap in kinds.items():
        if not has_value(gap["size"]):
            continue
        first, _, second = kind.partition("+")
        apart = duration_text(gap["size"]["value"], step)
        flams, few = percent_text(gap["flams"]["value"]), few_text(gap["size"]["count"])
        yield f"Unisons {first} and {second}: {apart} apart, order audible in {flams}{few}."
        if f"unisons.by_kind.{kind}.mean" in sure and abs(gap["mean"]["value"]) >= step:
            leader = "right one" if first == second else first
            way = "first" if gap["mean"]["value"] < 0 else "last"
            by = duration_text(gap["mean"]["value"], step)
            yield f"  The {leader} {way} by {by}, {interval_text(gap['mean'], 'unison', step)}."


def move_lines(by_move: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Yield the moves that cost the most."""
    costly = [
        (_move_cost(move), lines)
        for name, move in by_move.items()
        if (lines := [*_move_lines(name, move, step, sure)])
    ]
    costly.sort(key=lambda pair: -pair[0])
    for _, lines in costly[:MOST_SHOWN]:
        yield from lines


def _move_lines(name: str, move: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Yield what a move costs against staying on a drum; nothing where it costs nothing."""
    parts = []
    for key in MOVE_COSTS:
        figure = move[key]
        if f"moves.by_move.{name}.{key}" not in sure:
            continue
        bounds, amount = (
            interval_text(figure, "move", step, 0),
            duration_text(figure["value"], step),
        )
        if key == "later":
            parts.append(f"{amount} {'later' if figure['value'] > 0 else 'earlier'}, {bounds}")
        elif figure["value"] > 0 and key == "wider":
            parts.append(f"spread {amount} wider, {bounds}")
        elif figure["value"] > 0:
            parts.append(f"errors up {figure['value']:.0f} percentage points, {bounds}")
    start, end = voice_words(move["start"]), voice_words(move["end"])
    return fitted_lines(f"Move, {limb_words(move['limb'])}, {start} to {end}", parts)


def _move_cost(move: Summary) -> float:
    """A rough order among moves: ms later or wider, with one percent of errors as one ms."""
    later, wider, more = (float(move[key]["value"] or 0.0) for key in MOVE_COSTS)
    return abs(later) + max(wider, 0.0) + max(more, 0.0)


def evenness_lines(even: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Yield how even the hands are, their limp, and what happens at changes of note value."""
    if has_value(even["spread"]):
        spread, few = (
            duration_text(even["spread"]["value"], step),
            few_text(even["spread"]["count"]),
        )
        share = percent_text(even["relative"]["value"])
        yield f"Evenness: intervals vary by {spread}, {share} of the written time{few}."
    if "evenness.lope" in sure and abs(even["lope"]["value"]) >= 2 * step:
        yield _limp_line(even["lope"], step)
    turns = [(name, one) for name, one in even["changes"].items()]
    turns = [turn for turn in turns if f"evenness.changes.{turn[0]}" in sure]
    turns.sort(key=lambda turn: -abs(turn[1]["value"]))
    for name, one in turns[:MOST_SHOWN]:
        old, new = map(value_words, name.split(" to "))
        way = "rushes" if one["value"] < 0 else "drags"
        amount = f"{way} by {duration_text(one['value'], step)}"
        part = f"{amount}, {interval_text(one, 'change', step)}"
        yield from fitted_lines(f"  From {old} to {new}", [part])


def _limp_line(limp: Summary, step: float) -> str:
    """Return which hand is late, and by how much: half of what the long exceeds the short by."""
    late = limp | {key: limp[key] / 2 for key in ("value", "low", "high")}
    hand, other = ("left", "right") if late["value"] > 0 else ("right", "left")
    amount = f"{duration_text(late['value'], step)} late between {other}s"
    return f"  Limp: {hand} hand {amount}, {interval_text(late, 'stroke', step)}."


def trend_lines(trends: Summary, step: float, sure: Container[str]) -> Iterator[str]:
    """Yield what changes during a rung, or over the session."""
    for key, title in (("rung", "During a rung"), ("session", "Over the session")):
        parts = [
            _trend_text(name, trends[key][name], step)
            for name in TREND_NAMES
            if f"staying.{key}.{name}" in sure
        ]
        yield from fitted_lines(title, parts)


def _trend_text(name: str, figure: Summary, step: float) -> str:
    amount = abs(figure["value"])
    what, by = {
        "spread": ("spread", duration_text(amount, step)),
        "power": ("velocity", f"{amount:.1f} steps"),
        "errors": ("errors", f"{amount:.1f} percentage points"),
    }[name]
    way = "up" if figure["value"] > 0 else "down"
    return f"{what} {way} {by} a minute, {interval_text(figure, 'block', step, 1)}"
