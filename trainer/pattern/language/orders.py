"""Orders of the parts of a path: all of them, or a random choice that the same seed repeats."""

from __future__ import annotations

import math
from collections import Counter
from random import Random
from typing import TYPE_CHECKING, TypeVar

from trainer.errors import BadInput
from trainer.pattern.model import MAX_STROKES

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence

MAX_PARTS = 64
"""More parts than anybody can tell apart, and still quickly counted."""

Part = TypeVar("Part", bound="Hashable")


def order_count(parts: Sequence[Part]) -> int:
    """Return how many different orders the parts have; equal parts exchanged count once."""
    total = math.factorial(len(parts))
    for same in Counter(parts).values():
        total //= math.factorial(same)
    return total


def chosen_orders(
    parts: Sequence[Part], wanted: int | None, seed: int = 0
) -> list[tuple[Part, ...]]:
    """Return `wanted` different orders drawn by a seed, or all of them where it is None.

    All orders come sorted by the places the parts have in the text, the written order first, as
    `itertools.permutations` gives them. Raises BadInput with the count when there are too many to
    write out, or fewer than wanted.
    """
    if len(parts) > MAX_PARTS:
        raise BadInput(
            f"{len(parts)} parts have more orders than can be counted",
            mend=f"take at most {MAX_PARTS} parts",
        )
    possible = order_count(parts)
    if wanted is not None and wanted > possible:
        raise BadInput(
            f"{wanted} orders are too many: {len(parts)} parts have only {possible}",
            mend=f"write {possible} or fewer",
        )
    asked = possible if wanted is None else wanted
    if asked * len(parts) > MAX_STROKES:
        every = "every order of " if wanted is None else ""
        raise BadInput(
            f"{every}{len(parts)} parts makes {_number(asked)} orders, more than fit a pattern",
            mend="take fewer parts, or a number of orders with a seed",
        )
    places = [list(parts).index(part) for part in parts]
    found = (
        _random_orders(places, wanted, Random(seed))
        if wanted is not None
        else _all_orders(sorted(places))
    )
    return [tuple(parts[place] for place in order) for order in found]


def _number(count: int) -> str:
    return str(count) if count < 10**18 else f"{float(count):.1e}"


def _all_orders(order: list[int]) -> list[tuple[int, ...]]:
    """Return every different order of sorted numbers, in dictionary order."""
    found = [tuple(order)]
    while True:
        turn = len(order) - 2
        while turn >= 0 and order[turn] >= order[turn + 1]:
            turn -= 1
        if turn < 0:
            return found
        other = len(order) - 1
        while order[other] <= order[turn]:
            other -= 1
        order[turn], order[other] = order[other], order[turn]
        order[turn + 1 :] = reversed(order[turn + 1 :])
        found.append(tuple(order))


def _random_orders(places: list[int], wanted: int, dice: Random) -> list[tuple[int, ...]]:
    """Draw different orders; only `random()` is used, whose numbers Python promises to keep."""
    drawn: dict[tuple[int, ...], None] = {}
    while len(drawn) < wanted:
        order = list(places)
        for last in range(len(order) - 1, 0, -1):
            pick = int(dice.random() * (last + 1))
            order[last], order[pick] = order[pick], order[last]
        drawn[tuple(order)] = None
    return list(drawn)
