"""Which differences of a reading are told: those that are more than chance makes of so many.

A 95 % interval that leaves out zero is wrong once in twenty. A summary compares dozens of things
(every move three times, every change of note value, the lope, the trends), so one or more of them
would nearly always be told of a player who has none. All of them are therefore looked at together,
and a difference is told only where it stays below 5 % for the whole of them: Holm's step-down
(S. Holm 1979, A simple sequentially rejective multiple test procedure, Scand. J. Statist. 6:65-70).

How likely chance is to make a figure comes from its interval: half the interval on the side of zero
is a quantile of Student's t with one degree of freedom fewer than the figure's count, and the tail
of that is taken through the normal law by Wallace (1959, Ann. Math. Statist. 30:1121-1130). So it
works on any summary that was ever saved.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import TYPE_CHECKING

from trainer.measure.chance import t_quantile
from trainer.measure.phrases import Summary, known

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

ALPHA = 0.05
"""How often a summary of a player without any difference may tell one."""

COSTS = ("later", "wider", "errors_more")
TRENDS = ("spread", "power", "errors")


def beyond_chance(summary: Summary) -> frozenset[str]:
    """Return the keys of the differences that are told, as `trainer.measure.explain` names them."""
    figures = dict(_compared(summary))
    likely = sorted((_chance(figure), key) for key, figure in figures.items())
    told: list[str] = []
    for place, (chance, key) in enumerate(likely):
        if chance > ALPHA / (len(likely) - place):
            break
        told.append(key)
    return frozenset(told)


def _compared(summary: Summary) -> Iterator[tuple[str, Summary]]:
    """Yield everything that is held against zero, by its key."""
    for key, figure in _all(summary):
        if known(figure) and figure["low"] is not None and figure["high"] is not None:
            yield key, figure


def _all(summary: Summary) -> Iterator[tuple[str, Summary]]:
    yield "offset.drift", summary["offset"]["drift"]
    for kind, gap in summary["unisons"]["by_kind"].items():
        yield f"unisons.by_kind.{kind}.mean", gap["mean"]
    for name, move in summary["moves"]["by_move"].items():
        yield from ((f"moves.by_move.{name}.{cost}", move[cost]) for cost in COSTS)
    yield "evenness.lope", summary["evenness"]["lope"]
    for name, jump in summary["evenness"]["changes"].items():
        yield f"evenness.changes.{name}", jump
    yield "power.balance", summary["power"]["balance"]
    yield from _trends(summary["staying"])


def _trends(staying: Mapping[str, Summary]) -> Iterator[tuple[str, Summary]]:
    yield from ((f"staying.rung.{name}", staying["rung"][name]) for name in TRENDS)
    if staying["session"] != staying["rung"]:
        yield from ((f"staying.session.{name}", staying["session"][name]) for name in TRENDS)


def _chance(figure: Summary) -> float:
    """Return how likely a figure at least as far from zero is where there is nothing (0 to 1)."""
    value, free = abs(figure["value"]), max(1.0, figure["count"] - 1.0)
    half = value - (figure["low"] if figure["value"] > 0 else -figure["high"])
    if half <= 0.0:
        return 0.0 if value else 1.0
    t = value / half * t_quantile(0.975, free)
    z = (8 * free + 1) / (8 * free + 3) * math.sqrt(free * math.log1p(t * t / free))
    return 2.0 * (1.0 - NormalDist().cdf(z))
