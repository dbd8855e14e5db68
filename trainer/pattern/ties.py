"""How a meter wants to be read: its groups, and where a long note is cut into tied ones.

Beats count in quarter notes from the bar's start. A note may hide a beat only where readers are
used to it (common practice, as books of engraving have it): from half a beat to half a beat, over
the middle of a bar of four only in the middle of a syncopation, and over the groups of a compound
meter only where it fills them.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from itertools import count, takewhile
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.pattern.model import Meter

GRAIN = Fraction(1, 16)
"""A 64th: tied notes begin and end on multiples of it."""

SINGLE = {
    Fraction(4, base) * (Fraction(3, 2) if dots else 1): (base, dots)
    for base in (1, 2, 4, 8, 16, 32, 64)
    for dots in (0, 1)
}
"""Lengths in quarter notes that are one note: its base and its dots."""


def group_start(beat: Fraction, meter: Meter) -> Fraction:
    """Return the start of the group that holds a beat: the notes that are beamed together.

    A quarter where the meter counts quarters or more; three eighths in compound meters; in other
    odd meters pairs, with the last three together (7/8 is 2 + 2 + 3).
    """
    if meter.unit <= 4:
        return Fraction(int(beat))
    size = meter.beat
    if meter.beats % 3 == 0:
        return beat // (3 * size) * (3 * size)
    last = meter.length - 3 * size if meter.beats % 2 else meter.length
    return min(beat // (2 * size) * (2 * size), last)


def tied(start: Fraction, end: Fraction, meter: Meter) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield start and length of the notes, tied to one another, that last from start to end."""
    while end - start not in SINGLE or _hides(start, end, meter):
        cut = _cut(start, end, meter)
        yield from tied(start, cut, meter)
        start = cut
    yield start, end - start


def _hides(start: Fraction, end: Fraction, meter: Meter) -> bool:
    """Tell whether one note from start to end would hide a place that readers look for."""
    if not any(start < edge < end for edge in _groups(meter)):
        return False
    if meter.unit > 4 and meter.beats % 3 == 0:
        edges = (*_groups(meter), meter.length)
        return start not in edges or end not in edges
    half_beat = meter.beat if meter.unit > 4 else Fraction(1, 2)
    if start % half_beat or end % half_beat:
        return True
    middle = _middle(meter)
    if middle is None or not start < middle < end or start == 0:
        return False
    ends_bar = end == meter.length and start.denominator == 1
    return middle - start != end - middle and not ends_bar


def _cut(start: Fraction, end: Fraction, meter: Meter) -> Fraction:
    """Return the strongest place inside: the last one for what starts on one, else the first."""
    middle = _middle(meter)
    strong: Sequence[Fraction] = (Fraction(0), middle) if middle else ()
    for edges in (strong, _groups(meter)):
        inside = [edge for edge in edges if start < edge < end]
        if inside:
            return inside[-1] if start in edges else inside[0]
    size = Fraction(1)
    while True:
        first = (start // size + 1) * size
        if first < end:
            return (-(-end // size) - 1) * size if start % size == 0 else first
        size /= 2


@lru_cache(maxsize=64)
def _groups(meter: Meter) -> tuple[Fraction, ...]:
    """Return where the groups of a bar start."""
    step = min(meter.beat, Fraction(1))
    places = takewhile(lambda beat: beat < meter.length, (step * index for index in count()))
    return tuple(dict.fromkeys(group_start(beat, meter) for beat in places))


def _middle(meter: Meter) -> Fraction | None:
    """Return the middle of a bar of four quarters (or two halves), None in other meters."""
    return Fraction(2) if meter.unit <= 4 and meter.length == 4 else None
