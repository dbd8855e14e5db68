"""Two takes of one pattern side by side: each main number, and whether it really changed.

A number has changed when the difference of the two figures leaves out zero. Their intervals are
taken as independent (`trainer.measure.figure.difference`). Some twenty numbers are compared
at once, so each interval of 95% is widened, by the quantiles of its own degrees of freedom, until
all together mislead at most once in twenty comparisons (Bonferroni); in simulated takes of one
player it was one in sixty, whatever wanders (tests/bench/bench_intervals.py).
Numbers that could not be measured in either take are left out. Wander slower than a whole take
looks like a change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

from trainer.measure.figure import SURE, Figure, Z, difference, is_clear
from trainer.measure.threshold import t_quantile
from trainer.pattern.model import LIMB_NAMES

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

COMPARED_NUMBERS: tuple[tuple[str, tuple[str, ...], bool | None], ...] = (
    ("spread about your own wander", ("offset", "around_wander"), True),
    ("missed or on a wrong pad", ("counts", "errors"), True),
    ("mean offset", ("offset", "mean"), None),
    ("spread", ("offset", "spread"), True),
    *(
        (f"{words}, spread", ("offset", "by_limb", limb, "spread"), True)
        for limb, words in LIMB_NAMES.items()
    ),
    *(
        (f"{words}, mean offset", ("offset", "by_limb", limb, "mean"), None)
        for limb, words in LIMB_NAMES.items()
    ),
    ("intervals vary by", ("evenness", "spread"), True),
    ("hand and foot apart", ("unisons", "by_kind", "hand+foot", "size"), True),
    ("hand after the foot by", ("unisons", "by_kind", "hand+foot", "mean"), None),
    ("hand and hand apart", ("unisons", "by_kind", "hand+hand", "size"), True),
    ("feet apart", ("unisons", "by_kind", "foot+foot", "size"), True),
    ("hand and foot, order audible", ("unisons", "by_kind", "hand+foot", "flams"), True),
    ("equal strokes vary in power by", ("power", "uneven"), True),
    ("accents above ordinary strokes", ("power", "accents"), False),
)
"""Each number: its name, its place in a summary, and whether less of it is better (None:
neither way is)."""


@dataclass(frozen=True, slots=True)
class NumberChange:
    """One number in two takes. `change` is the second minus the first, with its widened interval.

    `beyond_chance` is True where that interval leaves out zero; `better` says whether the second
    take then did better (None: it did not change, or neither way is better).
    """

    name: str
    first: Figure
    second: Figure
    change: Figure
    beyond_chance: bool
    better: bool | None


def compare_readings(
    first: Mapping[str, Any], second: Mapping[str, Any]
) -> tuple[NumberChange, ...]:
    """Compare two summaries (`Reading.to_dict`) number by number."""
    pairs = [
        (name, one, other, less)
        for name, way, less in COMPARED_NUMBERS
        for one, other in [(_saved_figure(first, way), _saved_figure(second, way))]
        if one is not None and other is not None
    ]
    return tuple(_number_changes(pairs))


def _number_changes(
    pairs: list[tuple[str, Figure, Figure, bool | None]],
) -> Iterator[NumberChange]:
    tail = (1 - SURE) / (2 * max(1, len(pairs)))
    for name, one, other, less in pairs:
        change = difference(_widened_figure(other, tail), _widened_figure(one, tail))
        sure = is_clear(change)
        better = None
        if sure and less is not None:
            better = ((change.value or 0.0) < 0.0) == less
        yield NumberChange(name, one, other, change, sure, better)


def _saved_figure(summary: Mapping[str, Any], way: tuple[str, ...]) -> Figure | None:
    """The figure at a place of a summary, None where it is missing or has no value."""
    value: Any = summary
    for step in way:
        value = value.get(step) if isinstance(value, dict) else None
    if not isinstance(value, dict) or value.get("value") is None:
        return None
    low, high, free = (value.get(key) for key in ("low", "high", "free"))
    return Figure(value["value"], value["unit"], value["count"], low, high, free=free)


def _widened_figure(one: Figure, tail: float) -> Figure:
    """The same figure with the ends of its interval so far away that each has this tail."""
    if one.value is None or one.low is None or one.high is None:
        return one
    if one.free is None:
        factor = NormalDist().inv_cdf(1 - tail) / Z
    else:
        factor = t_quantile(1 - tail, one.free) / t_quantile(0.5 + SURE / 2, one.free)
    low = one.value - factor * (one.value - one.low)
    high = one.value + factor * (one.high - one.value)
    return replace(one, low=low, high=high)
