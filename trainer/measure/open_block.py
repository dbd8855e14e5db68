"""An open block: nothing is written, so the strokes are measured against the click's own grid.

The strokes of each beat are laid on the even division of that beat (1, 2, 3, 4, 6 or 8 parts) that
explains them best. A stroke is taken to miss its place by a normal error of `GRID_S`, and every
place of a division is as likely as any other, so a stroke on a division into n parts costs
log(n) more: a finer one has to fit better (our own model). Divisions whose places are nearer to
each other than `NEAREST_S` are left out. Strokes within `TOGETHER_S` of the one before are the same
one, played by several limbs: the first counts.

- `mean`, `spread`: mean and standard deviation of the distance to the grid in ms; minus is early.
- `divisions`: how many strokes were laid on each division, by its number of parts.

What is played is the player's choice, so there is no verdict.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, mean, spread, withheld
from trainer.pattern.as_played import beat_length
from trainer.practice.course import beat_time, pass_end, seconds_per_quarter

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.practice.course import Pass
    from trainer.practice.outcomes import Judged

PARTS = (1, 2, 3, 4, 6, 8)
GRID_S = 0.015
NEAREST_S = 0.050
TOGETHER_S = 0.030

BY_CHANCE_SHARE = 0.22
"""A spread above this share of the time between places says no more than chance: strokes anywhere
vary by 0.29 of it."""

NO_GRID = "the strokes do not follow the click"


@dataclass(frozen=True, slots=True)
class OpenBlock:
    """Evenness against the click; `divisions` has the strokes on each division of the beat."""

    mean: Figure
    spread: Figure
    divisions: dict[str, int]


def open_block(judged: Judged) -> OpenBlock:
    """Measure strokes against the click; withheld where something is written."""
    if judged.course.pattern.notes:
        nothing = withheld("ms", 0, "strokes are written")
        return OpenBlock(nothing, nothing, {})
    offsets: list[float] = []
    steps: list[float] = []
    divisions: Counter[int] = Counter()
    for beat_s, places in _beats(judged):
        parts = _parts(places, beat_s)
        divisions[parts] += len(places)
        offsets += [_off_grid(place, beat_s / parts) * 1000 for place in places]
        steps += [beat_s / parts * 1000] * len(places)
    values = np.array(offsets, dtype=np.float64)
    found = OpenBlock(
        mean(values, "ms"),
        spread(values, "ms"),
        {str(parts): count for parts, count in sorted(divisions.items())},
    )
    wide = found.spread.value
    if wide is None or wide <= BY_CHANCE_SHARE * float(np.median(steps)):
        return found
    lost = withheld("ms", len(offsets), NO_GRID)
    return OpenBlock(lost, lost, found.divisions)


def _beats(judged: Judged) -> Iterator[tuple[float, list[float]]]:
    """Yield the length of each beat with strokes (s), and where in it they are (s, minus before).

    A stroke belongs to the beat it is nearest to within half of the finest part, else to the one
    it falls into.
    """
    pattern = judged.course.pattern
    strokes = list(_apart([hit.time_s for hit in judged.hits]))
    for one in judged.course.passes:
        end_s, quarter_s = pass_end(pattern, one), seconds_per_quarter(pattern, one.tempo)
        beat_s = float(beat_length(pattern, pattern.meter)) * quarter_s
        early_s = beat_s / max(PARTS) / 2
        begin_s = _begin(judged, one) - early_s
        beats: dict[int, list[float]] = defaultdict(list)
        for time_s in strokes:
            if begin_s <= time_s < end_s - early_s:
                beat = math.floor((time_s - one.start_s + early_s) / beat_s)
                beats[beat].append(time_s - one.start_s - beat * beat_s)
        yield from ((beat_s, places) for _, places in sorted(beats.items()))


def _begin(judged: Judged, one: Pass) -> float:
    return beat_time(judged.course.pattern, one, 0) if one.from_s is None else one.from_s


def _apart(times: Sequence[float]) -> Iterator[float]:
    """Yield the first of all strokes that land together."""
    last = -math.inf
    for time_s in times:
        if time_s - last >= TOGETHER_S:
            last = time_s
            yield time_s


def _parts(places: Sequence[float], beat_s: float) -> int:
    """Return the division of a beat that explains its strokes best."""
    fitting = [parts for parts in PARTS if parts == 1 or beat_s / parts >= NEAREST_S]
    return min(fitting, key=lambda parts: _cost(places, beat_s / parts, parts))


def _cost(places: Sequence[float], step_s: float, parts: int) -> float:
    misses = math.fsum((_off_grid(place, step_s) / GRID_S) ** 2 for place in places)
    return misses / 2 + len(places) * math.log(parts)


def _off_grid(place: float, step_s: float) -> float:
    """Return the distance to the nearest place of the grid; minus is early."""
    return place - round(place / step_s) * step_s
