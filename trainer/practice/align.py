"""Where a pattern begins in a recorded take, at which tempo, and how often it is played.

The tempo is the one given; else the one written in the file where it fits what was played, else the
one that fits best. It fits when what was played does not run away from it by more than RUNAWAY_S
from end to end, which nobody who hears a click does. The start is the moment from which the most
strokes agree with the passes and the fewest are missing; a lead-in before it costs little. A start
close to a bar line of the file is taken to be that bar line, so that a player's lateness stays
lateness. Nothing is made up: where too little fits, BadInput says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import pstdev
from typing import TYPE_CHECKING

import numpy as np

from trainer.errors import BadInput
from trainer.practice import tempo_search
from trainer.practice.arrays import fitted_line
from trainer.practice.breaks_and_drift import (
    CountBreak,
    count_breaks,
    find_sections,
    local_fit,
    running_swing,
    tempo_swing,
    without_detours,
    worth_laying,
)
from trainer.practice.course import check_tempo, seconds_per_quarter
from trainer.practice.likelihood import LAG_RANGE_S
from trainer.practice.passes_played import (
    MatchedTake,
    cut_where_stopped,
    find_start,
    lay_course,
    passes_played,
)
from trainer.practice.tempo_search import Line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Course
    from trainer.practice.tempo_search import Shape, Strokes

RUNAWAY_S = 0.100
"""A tempo fits while the strokes stay within this of it over the whole take."""

FREE_SWING, CLICKED_SWING = 0.12, 0.25
"""A take runs to and fro by more than this part of a quarter before it is not steady: by its own
tempo, and by the file's, which is mostly that of a click (a judgement, no source)."""

ROUNDING_S = 0.005
"""A tempo is rounded as long as the take's end moves by no more than this."""

AS_GOOD, GOOD_FIT = 0.9, 0.75
"""The written tempo is preferred while it fits at least this well against the best one; others are
not looked at where it fits so well: half and double tempo reach two thirds at most."""

LEAST_FIT = 0.35
"""Below this the strokes agree with the pattern hardly better than by chance."""

BAR_LINE_S = 0.050
"""A start this close to a bar line of the file is that bar line."""

LEAST_AGREE, ASK_AGREE, SURE_AGREE = 0.5, 0.75, 0.85
"""Below the first share of notes and hits that belong together it is another pattern, below the
second another one of the same drums is as likely (measured on made takes held against patterns of
others: tests/practice/test_human_takes.py); from the third on it is this one, however loosely it
was played."""

LEAST_GAIN = 0.05
"""A take counts as broken where this share of its hits finds a note by that alone, or where no
fewer do and the spread is halved."""

LEAST_PART = 0.2
"""What was found must be this part of the take at least: more before it is no lead-in."""

FEWEST_HITS = 4
"""Fewer hits than this show neither a start nor a tempo."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """A course laid on a take.

    `fit` is 1 for a take like the pattern, 0 for chance; `agree` is the share of notes and hits
    there that belong together (twice the pairs over both).
    `tempo_from` is given, file or played; `start_from` is given, bar line or played.
    `played_tempo` is what the strokes themselves say, None where they are too few. `swing_s` is how
    far the strokes run to and fro against a steady tempo where that is too much for one, and each
    stretch has its own; else 0. `breaks` are where the count was broken and taken up again.
    """

    course: Course
    fit: float
    agree: float
    tempo_from: str
    start_from: str
    played_tempo: float | None
    swing_s: float = 0.0
    breaks: tuple[CountBreak, ...] = ()


def align(
    pattern: Pattern,
    hits: Sequence[Hit],
    *,
    tempo: float | None = None,
    start_s: float | None = None,
    written: float | None = None,
    written_for_all: bool = True,
) -> Alignment:
    """Lay passes of a pattern on a take's hits.

    `tempo` (BPM in the pattern's unit) and `start_s`, when given, are obeyed; `written` is the
    file's own tempo in quarter notes a minute, `written_for_all` False where the file has several.
    Raises BadInput when what is not given cannot be found.
    """
    if tempo is not None:
        check_tempo(tempo)
    shape = tempo_search.shape_of(pattern)
    strokes = tempo_search.strokes_of(shape, hits)
    unit = float(pattern.tempo_unit)
    line = None
    if len(strokes.time_s) >= FEWEST_HITS:
        line = _line(shape, strokes, unit, tempo, written)
    elif tempo is None or start_s is None:
        raise _too_few(len(hits), len(strokes.time_s))
    if start_s is not None:
        _check_start(start_s, hits)
    chosen, tempo_from = _tempo(strokes, line, unit, tempo, written if written_for_all else None)
    quarter_s = seconds_per_quarter(pattern, chosen)
    start_from = "given"
    if start_s is None:
        assert line is not None
        start_s, start_from = find_start(shape, strokes, line, quarter_s), "played"
        bar_s = float(pattern.meter.length) * quarter_s
        if tempo_from == "file" and abs(math.remainder(start_s, bar_s)) <= BAR_LINE_S:
            start_s, start_from = round(start_s / bar_s) * bar_s, "bar line"
    fit = _fit_from(shape, strokes, line, start_s, quarter_s)
    taken = MatchedTake(passes_played(pattern, hits, chosen, start_s), hits)
    agree = taken.agreement()
    found = Alignment(taken.course, fit, agree, tempo_from, start_from, _tempo_of(line, unit))
    if start_from != "given" and line is not None:
        found = _laid_in_sections(pattern, shape, strokes, found, line, taken)
    looked_for = start_from != "given" or tempo_from == "played"
    part = len(_from(shape, strokes, start_s, quarter_s).time_s) / max(1, len(strokes.time_s))
    unlike = agree < LEAST_AGREE or (fit < LEAST_FIT and agree < SURE_AGREE)
    if looked_for and (unlike or part < LEAST_PART):
        raise _nothing_fits()
    return found


def _tempo_of(line: Line | None, unit: float) -> float | None:
    return None if line is None else 60.0 / (line.quarter_s * unit)


def _laid_in_sections(
    pattern: Pattern,
    shape: Shape,
    strokes: Strokes,
    found: Alignment,
    line: Line,
    taken: MatchedTake,
) -> Alignment:
    """Return the take laid in stretches, where its count breaks or drifts and they hold more of it.

    `taken` is the take as found, on one course.
    """
    hits, tempo = taken.hits, found.course.passes[0].tempo
    quarter_s = seconds_per_quarter(pattern, tempo)
    before_s = taken.offsets_s()
    most_s = _most_swing_s(quarter_s, found.tempo_from)
    if len(before_s) > (1.0 - LEAST_GAIN) * len(hits) and running_swing(before_s) <= most_s:
        return found
    counts = find_sections(shape, strokes, line.quarter_s)
    counts = without_detours(shape, worth_laying(shape, counts, quarter_s), line.quarter_s)
    swing_s = max((tempo_swing(shape, one, quarter_s) for one in counts), default=0.0)
    drifts = swing_s > most_s
    if not counts or (len(counts) == 1 and not drifts):
        return found
    laid = lay_course(pattern, shape, counts, None if drifts else tempo)
    apart = MatchedTake(cut_where_stopped(MatchedTake(laid, hits)), hits)
    after_s = apart.offsets_s()
    # Any take fits better in pieces: only a clear gain shows that the count was really broken, and
    # of two places in a piece that sound alike the one where more is missing is the wrong one.
    more = len(after_s) - len(before_s)
    holds = more >= LEAST_GAIN * len(hits)
    tightens = more >= 0 < len(before_s) and pstdev(after_s) <= pstdev(before_s) / 2
    if not (holds or tightens or (drifts and more >= 0)) or apart.agreement() < found.agree:
        return found
    return replace(
        found,
        course=apart.course,
        fit=local_fit(shape, strokes, line.quarter_s),
        agree=apart.agreement(),
        tempo_from="played" if drifts else found.tempo_from,
        start_from="played",
        swing_s=swing_s if drifts else 0.0,
        breaks=tuple(count_breaks(counts)),
    )


def _most_swing_s(quarter_s: float, tempo_from: str) -> float:
    """Return how far a steady take may run to and fro, in seconds.

    Slow playing wanders further. Who plays at the file's tempo most likely heard it.
    """
    share = {"given": math.inf, "file": CLICKED_SWING}.get(tempo_from, FREE_SWING)
    return max(RUNAWAY_S, share * quarter_s)


def _too_few(count: int, known: int) -> BadInput:
    if count > known:
        what = f"{known} of the take's {count} notes are on the pattern's voices"
        return BadInput(f"only {what}: too few to find it", fix="check the kit and the pattern")
    return BadInput(
        f"the take has only {_notes(count)}: too few to find the pattern",
        fix="give --tempo and --start",
    )


def _check_start(start_s: float, hits: Sequence[Hit]) -> None:
    """Refuse a start from which nothing was played, or of which nothing can be in the take."""
    last_s = max((hit.time_s for hit in hits), default=math.inf)
    if not -LAG_RANGE_S <= start_s <= last_s:
        raise BadInput(
            f"a start at {start_s:g} s is outside the take, which goes from 0 to {last_s:.2f} s",
            fix="give a --start within it, or auto",
        )


def _notes(count: int) -> str:
    return "1 note" if count == 1 else f"{count} notes"


def _nothing_fits() -> BadInput:
    return BadInput(
        "the pattern was not found in the take: its strokes agree hardly better than by chance",
        fix="check the pattern and the kit, or give --tempo and --start",
    )


def _line(
    shape: Shape, strokes: Strokes, unit: float, tempo: float | None, written: float | None
) -> Line:
    """Return the tempo and a beginning of a pass as the strokes themselves show them.

    Stretches propose tempos, the whole take decides: parts of a climb look alike at half the tempo.
    """
    stretches = tempo_search.windows(strokes)
    if tempo is not None:
        return _line_near(shape, strokes, stretches, 60.0 / (tempo * unit))
    own, own_fit = None, 0.0
    if written is not None and written > 0:
        own = _line_near(shape, strokes, stretches, 60.0 / written)
        own_fit = tempo_search.fit(shape, strokes, own.quarter_s).fit
        if own_fit >= GOOD_FIT:
            return own
    lines = [
        _line_near(shape, strokes, stretches, quarter_s)
        for quarter_s in tempo_search.likely_quarters(shape, stretches, unit)
    ]
    fits = [tempo_search.fit(shape, strokes, line.quarter_s).fit for line in lines]
    if own is not None and own_fit >= AS_GOOD * max(fits, default=0.0):
        return own
    if not lines:
        raise _nothing_fits()
    return lines[fits.index(max(fits))]


def _line_near(shape: Shape, strokes: Strokes, stretches: list[Strokes], quarter_s: float) -> Line:
    """Return the line through the take's strokes for a tempo that is about right."""
    seed = max(stretches, key=lambda one: tempo_search.fit(shape, one, quarter_s).fit)
    first = int(np.searchsorted(strokes.time_s, seed.time_s[0]))
    line = Line(quarter_s, tempo_search.fit(shape, seed, quarter_s).phase_s)
    return _grown(shape, strokes, line, first, first + len(seed.time_s))


def _grown(shape: Shape, strokes: Strokes, line: Line, first: int, last: int) -> Line:
    """Return the line through all strokes, from one through a few, looking twice as far each time.

    Each round only takes strokes near the line so far, so that odd ones do not bend it.
    """
    count = len(strokes.time_s)
    while True:
        # Twice, because a better line has other strokes near it.
        for _ in range(2):
            line = _straightened(shape, strokes.between(first, last), line)
        if first == 0 and last == count:
            return line
        more = max(8, (last - first) // 2)
        first, last = max(0, first - more), min(count, last + more)


def _straightened(shape: Shape, strokes: Strokes, line: Line) -> Line:
    """Return the line of least squares through the strokes near one, itself where they are few."""
    number, offset = tempo_search.nearest(shape, strokes, line.phase_s, line.quarter_s)
    near = np.abs(offset) <= shape.own_s(line.quarter_s)
    if near.sum() < FEWEST_HITS:
        return line
    turn, note = np.divmod(number[near], len(shape.beat))
    beats, times = shape.beat[note] + turn * shape.length, strokes.time_s[near]
    if beats.max() - beats.min() < 2 * shape.step:
        return Line(line.quarter_s, line.phase_s + float(np.median(offset[near])))
    return Line(*fitted_line(beats, times))


def _tempo(
    strokes: Strokes, line: Line | None, unit: float, tempo: float | None, written: float | None
) -> tuple[float, str]:
    """Return the tempo to judge by and where it is from: given, file or played."""
    if tempo is not None:
        return tempo, "given"
    assert line is not None
    played = 60.0 / (line.quarter_s * unit)
    if written is not None and written > 0:
        wish = written / unit
        lasts_s = float(strokes.time_s[-1] - strokes.time_s[0])
        if abs(wish / played - 1.0) * lasts_s <= RUNAWAY_S:
            return check_tempo(wish), "file"
    return check_tempo(_rounded(played, strokes)), "played"


def _rounded(tempo: float, strokes: Strokes) -> float:
    """Return the tempo with no more digits than its strokes can show."""
    lasts_s = float(strokes.time_s[-1] - strokes.time_s[0])
    for digits in range(4):
        short = round(tempo, digits)
        if abs(short / tempo - 1.0) * lasts_s <= ROUNDING_S:
            return short
    return tempo


def _fit_from(
    shape: Shape, strokes: Strokes, line: Line | None, start_s: float, quarter_s: float
) -> float:
    """Return how well what is played from the start on fits the pattern."""
    rest = _from(shape, strokes, start_s, quarter_s)
    return tempo_search.fit(shape, rest, line.quarter_s if line else quarter_s).fit


def _from(shape: Shape, strokes: Strokes, start_s: float, quarter_s: float) -> Strokes:
    """Return the strokes from the start on."""
    first = int(np.searchsorted(strokes.time_s, start_s - shape.near_s(quarter_s)))
    return strokes.between(first, len(strokes.time_s))
