"""At which tempo, and from which moment, a take fits a pattern best.

A pattern that repeats is a circle as long as one pass. Every hit, laid on the circle back from
every note of its own voice, marks a moment at which a pass may begin; the moments pile up where
passes do begin. `fit` is the share of strokes that agree there (twice the pairs over hits and
notes, so that neither half nor double tempo looks as good), over what strokes thrown at random
would reach: 1 is a take of this pattern, 0 is chance. Times are seconds.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.pattern.as_played import played_places
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice.outcomes import RIMS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from trainer.kit.hits import Hit
    from trainer.pattern.model import Pattern
    from trainer.practice.arrays import Floats, Ints


NEAR_S = (0.010, 0.030)
"""Strokes agree within a fifth of the closest step of one voice, held between these."""

NARROW_SHARE = 0.1
"""So large a share of the steps may be narrower than the one that says how near is near."""

WINDOW_HITS, WINDOW_S = 96, 20.0
"""The tempo is looked for in stretches of so many hits, no longer than this."""

BIN_S, LONG_PASS_S = 0.004, 120.0

SHORT_HITS, ROUGH_TEMPOS = 32, 40
"""The first look at all tempos is at so many hits, and leaves so many tempos."""

TEMPO_CANDIDATES, TEMPOS_APART = 4, 0.03
"""So many tempos are looked at closely, further apart than this part of one another."""


@dataclass(frozen=True)
class Shape:
    """The notes of one pass: beats (quarters, main strokes only), voice numbers, and its length.

    `beat` and `voice` are shaped (notes,). Beats and length are as played
    (`trainer.pattern.as_played`).

    `step` is how near two notes of one voice come (but for the nearest tenth of them: a single
    pair of 32nds must not narrow the whole take); `rims` are voices with rims written.
    """

    beat: Floats
    voice: Ints
    length: float
    step: float
    voices: dict[str, int]
    rims: frozenset[str]

    def own_s(self, quarter_s: float) -> float:
        """Return how far a stroke may be from its note before it could be another's."""
        return float(np.clip(0.45 * self.step * quarter_s, NEAR_S[0], 2 * NEAR_S[1]))

    def near_s(self, quarter_s: float) -> float:
        """Return how far strokes may be apart and still agree."""
        return float(np.clip(0.2 * self.step * quarter_s, *NEAR_S))


@dataclass(frozen=True)
class Strokes:
    """Hits on the pattern's voices, in time order: two arrays shaped (hits,)."""

    time_s: Floats
    voice: Ints

    def between(self, first: int, last: int) -> Strokes:
        """Return the hits from one place up to another."""
        return Strokes(self.time_s[first:last], self.voice[first:last])


@dataclass(frozen=True)
class TempoFit:
    """How well hits fit at a tempo, and the moment (s, within one pass length) a pass begins."""

    fit: float
    phase_s: float


@dataclass(frozen=True)
class Line:
    """Strokes on a line: the length of a quarter and a moment when a pass begins, in seconds."""

    quarter_s: float
    phase_s: float


def shape_of(pattern: Pattern) -> Shape:
    """Return the main strokes of a pattern as arrays, at the places where they are played."""
    places = played_places(pattern)
    placed = sorted(
        (place, row)
        for row, (place, note) in enumerate(zip(places.notes, pattern.notes, strict=True))
        if not note.grace
    )
    notes = [pattern.notes[row] for _, row in placed]
    voices: dict[str, int] = {}
    number = np.array([voices.setdefault(note.voice, len(voices)) for note in notes], np.int64)
    beat = np.array([place for place, _ in placed])
    length = places.length
    steps = [np.zeros(0)]
    for voice in voices.values():
        own = beat[number == voice]
        steps.append(np.diff(own, append=own[0] + length))
    every = np.sort(np.concatenate(steps))
    step = float(every[int(NARROW_SHARE * len(every))]) if len(every) else length
    rims = frozenset(note.voice for note in notes if note.zone in RIMS)
    return Shape(beat, number, length, step, voices, rims)


def strokes_of(shape: Shape, hits: Sequence[Hit]) -> Strokes:
    """Return the hits on the pattern's voices that the kit's filter left alone.

    Rim clicks where none are written are left out too (a count-in is often clicked on the rim),
    unless the drum sends mostly those.
    """
    own = [hit for hit in hits if hit.voice in shape.voices and not hit.flag]
    rims = Counter(hit.voice for hit in own if hit.zone in RIMS)
    every = Counter(hit.voice for hit in own)
    odd = {v for v in rims if v not in shape.rims and 2 * rims[v] < every[v]}
    found = sorted(
        (hit.time_s, shape.voices[str(hit.voice)])
        for hit in own
        if not (hit.voice in odd and hit.zone in RIMS)
    )
    return Strokes(
        np.array([time_s for time_s, _ in found], float),
        np.array([voice for _, voice in found], np.int64),
    )


def begin_votes(shape: Shape, strokes: Strokes, quarter_s: float) -> Floats:
    """Return, for each moment of a pass, how many hits agree to begin there.

    The array has one entry a bin, from the beginning of a pass round to its end; a bin is BIN_S,
    or twice that in a pass of minutes.
    """
    circle = shape.length * quarter_s
    bin_s = BIN_S if circle < LONG_PASS_S else 2 * BIN_S
    bins = max(1, round(circle / bin_s))
    total = np.zeros(bins)
    for voice in np.unique(strokes.voice):
        times = strokes.time_s[strokes.voice == voice]
        beats = shape.beat[shape.voice == voice]
        # In slices, so that a long take and a long pattern do not fill the memory.
        for part in np.array_split(times, max(1, len(times) * len(beats) // 1_000_000)):
            at = (part[:, None] - beats[None, :] * quarter_s) / circle % 1.0
            places = (at.ravel() * bins).astype(np.int64) % bins
            if len(places) < bins:
                np.add.at(total, places, 1.0)
            else:
                total += np.bincount(places, minlength=bins)
    # Each bin gathers its neighbours within reach, round the circle: votes that nearly agree count.
    half = min(max(1, round(shape.near_s(quarter_s) / bin_s)), (bins - 1) // 2)
    sums = np.empty(bins + 2 * half + 1)
    sums[0] = 0.0
    np.cumsum(np.concatenate([total[bins - half :], total, total[:half]]), out=sums[1:])
    return np.asarray(sums[2 * half + 1 :] - sums[: -2 * half - 1])


def highest_moments(
    votes: Floats, circle_s: float, least: float, apart_s: float
) -> Iterator[tuple[float, float]]:
    """Yield the moments (s) with at least so many votes, and their votes, the highest first.

    A moment nearer than `apart_s` to a higher one belongs to it; time goes round in a circle.
    """
    found: list[float] = []
    high = np.flatnonzero(votes >= least)
    for place in high[np.argsort(-votes[high], kind="stable")].tolist():
        moment_s = (place + 0.5) / len(votes) * circle_s
        if all(abs(math.remainder(moment_s - other, circle_s)) > apart_s for other in found):
            found.append(moment_s)
            yield moment_s, float(votes[place])


def fit(shape: Shape, strokes: Strokes, quarter_s: float) -> TempoFit:
    """Return how well a stretch of hits fits at a tempo."""
    if len(strokes.time_s) < 2:
        return TempoFit(0.0, 0.0)
    agreeing = begin_votes(shape, strokes, quarter_s)
    length_s = float(strokes.time_s[-1] - strokes.time_s[0]) + shape.step * quarter_s
    notes = len(shape.beat) * length_s / (shape.length * quarter_s)
    size = len(strokes.time_s) + notes
    best, chance = 2 * agreeing.max() / size, 2 * agreeing.mean() / size
    phase_s = (int(agreeing.argmax()) + 0.5) / len(agreeing) * shape.length * quarter_s
    share = max(0.0, best - chance) / max(0.2, 1.0 - chance)
    return TempoFit(float(min(1.0, share)), phase_s)


def windows(strokes: Strokes) -> list[Strokes]:
    """Return stretches to look for the tempo in: the middle and later on, past any lead-in."""
    count = len(strokes.time_s)
    found = []
    for centre in (count // 2, 3 * count // 4):
        first = max(0, min(centre - WINDOW_HITS // 2, count - WINDOW_HITS))
        last = min(count, first + WINDOW_HITS)
        end = np.searchsorted(strokes.time_s, strokes.time_s[first] + WINDOW_S, side="right")
        found.append(strokes.between(first, min(last, max(int(end), first + 8))))
    return found


def mean_fit(shape: Shape, stretches: list[Strokes], quarter_s: float) -> float:
    """Return the mean fit of several stretches at a tempo."""
    return float(np.mean([fit(shape, one, quarter_s).fit for one in stretches]))


def likely_quarters(shape: Shape, stretches: list[Strokes], unit: float) -> list[float]:
    """Return the lengths of a quarter (s) that fit best, at most TEMPO_CANDIDATES of them.

    `unit` is the note that tempos count, in quarters. All tempos a course may have are tried on
    short stretches, as finely as those need; the best of them on the whole stretches, and the best
    few again more finely.
    """
    short = [one.between(0, SHORT_HITS) for one in stretches]
    rough, _ = _ratio(short)
    count = int(np.log(MAX_TEMPO / MIN_TEMPO) / np.log(rough)) + 1
    quarters = 60.0 / (MIN_TEMPO * unit) / rough ** np.arange(count + 1)
    fits = np.array([mean_fit(shape, short, quarter) for quarter in quarters])
    ratio, steps = _ratio(stretches, rough)
    kept = quarters[np.sort(np.argsort(-fits, kind="stable")[:ROUGH_TEMPOS])]
    quarters = np.unique((kept[:, None] * ratio ** np.arange(-steps, steps + 1)).ravel())
    fits = np.array([mean_fit(shape, stretches, quarter) for quarter in quarters])
    found: list[float] = []
    while len(found) < TEMPO_CANDIDATES and fits.max() > 0:
        best = quarters[fits.argmax()]
        fits[np.abs(np.log(quarters / best)) < TEMPOS_APART] = 0.0
        found.append(max(best * ratio ** np.linspace(-1, 1, 9), key=_fit_of(shape, stretches)))
    return found


def _ratio(stretches: list[Strokes], rough: float = 1.0) -> tuple[float, int]:
    """Return how far apart tempos may be tried on stretches, and how many reach over `rough`."""
    longest = max(float(one.time_s[-1] - one.time_s[0]) for one in stretches)
    ratio = 1.0 + min(0.02, 10 * BIN_S / max(1.0, longest))
    return ratio, math.ceil(math.log(rough) / math.log(ratio) / 2)


def _fit_of(shape: Shape, stretches: list[Strokes]) -> Callable[[float], float]:
    return lambda quarter_s: mean_fit(shape, stretches, quarter_s)


def nearest(
    shape: Shape, strokes: Strokes, start_s: float, quarter_s: float
) -> tuple[Ints, Floats]:
    """Return, for each hit, the note of its voice that is nearest, and its offset from it (s).

    Both arrays are shaped (hits,); the offset is infinite on a voice without notes.
    Notes are numbered on through the passes from the one that begins at `start_s`; negative ones
    belong to passes before it.
    """
    number = np.zeros(len(strokes.time_s), np.int64)
    offset = np.full(len(strokes.time_s), np.inf)
    beats = (strokes.time_s - start_s) / quarter_s
    turn = np.floor(beats / shape.length)
    within = beats - turn * shape.length
    for voice in shape.voices.values():
        notes, hits = np.flatnonzero(shape.voice == voice), strokes.voice == voice
        own, at = shape.beat[notes], within[hits]
        after = np.searchsorted(own, at)
        left = np.where(after > 0, own[after - 1], own[-1] - shape.length)
        right = np.where(after < len(own), own[after % len(own)], own[0] + shape.length)
        use_left = at - left <= right - at
        place = np.where(use_left, after - 1, after)
        number[hits] = notes[place % len(notes)] + (
            turn[hits].astype(np.int64) + place // len(notes)
        ) * len(shape.beat)
        offset[hits] = np.where(use_left, at - left, at - right) * quarter_s
    return number, offset
