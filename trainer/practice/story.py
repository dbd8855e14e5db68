"""One account of a take: what each hit was for, which targets are open, where the player stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from trainer.practice import likelihood as like

if TYPE_CHECKING:
    from collections.abc import Sequence

STRAY, DOUBLE = -1, -2
"""What a hit is for that has no target."""


class Lag(NamedTuple):
    """How late the player is (s), with a variance (s^2, infinite where not known), as last seen."""

    late_s: float
    doubt: float
    seen_s: float


class Story(NamedTuple):
    """One account of the take so far.

    `first` is the first open target, `taken` has a bit for each later one that is not open (bit 0
    is `first`), `slips` counts strokes that fitted badly in a row. `given` has the hit
    and the target for each unsettled hit that is for one; the others are what they are alone.
    """

    cost: float
    first: int
    taken: int
    lag: Lag
    slips: int
    given: tuple[tuple[int, int], ...]


def opened(first: int, taken: int) -> tuple[int, int]:
    """Return the first open target and the rest, when some at the front are no longer open."""
    gone = (~taken & (taken + 1)).bit_length() - 1
    return first + gone, taken >> gone


def without(story: Story, place: int) -> Story:
    """Return a story that has never heard of the targets from a place on."""
    given = tuple(pair for pair in story.given if pair[1] < place)
    lost = len(story.given) - len(given)
    taken = story.taken & ((1 << max(0, place - story.first)) - 1)
    first, taken = opened(min(story.first, place), taken)
    return Story(story.cost + lost * like.STRAY, first, taken, story.lag, story.slips, given)


def agreed(stories: Sequence[Story], hit: int, end: int) -> int:
    """Return the first hit from `hit` on that the stories do not agree about, `end` where none."""
    if len(stories) == 1:
        return end
    rows = [told(story, hit) for story in stories]
    shared = rows[0]
    for row in rows:
        while row[: len(shared)] != shared:
            shared = shared[:-1]
    count = len(shared)
    return min([row[count][0] for row in rows if len(row) > count], default=end)


def told(story: Story, until: int) -> tuple[tuple[int, int], ...]:
    """Return what a story gives from the hit `until` on, when those before it are settled."""
    given = story.given
    while given and given[0][0] < until:
        given = given[1:]
    return given
