"""Which passes of a pattern a take holds: where they begin, where they stop, which are the groove.

A pass whose very last stroke is missing was played and that stroke is missed; after a player stops
on the way nothing more is due; a stroke alone after the end begins no pass. Between passes of a
groove a player may put fills, which are no faults. Times are seconds.

A pass whose count is interrupted and continues later is laid in two pieces, a drifting one in
pieces of whole bars, each at its own tempo: a `Pass` due from `from_s` up to `end_s`. Only the
first piece of a pass has no `from_s`.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from trainer.pattern.as_played import played_places
from trainer.practice import tempo_search
from trainer.practice.arrays import fitted_line
from trainer.practice.course import (
    Course,
    Pass,
    check_tempo,
    pattern_seconds,
    seconds_per_quarter,
)
from trainer.practice.likelihood import LAG_RANGE_S
from trainer.practice.matcher import match_take
from trainer.practice.outcomes import DOUBLE, EXTRA, MISSED, PLAYED, RIM, WRONG_PAD
from trainer.practice.tempo_search import Line

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.kit.hits import Hit, Strike
    from trainer.pattern.model import Pattern
    from trainer.practice.arrays import Bools, Floats, Ints
    from trainer.practice.breaks_and_drift import Section
    from trainer.practice.outcomes import Judged
    from trainer.practice.tempo_search import Shape, Strokes


MOST_STARTS = 48
"""So many moments are tried as the start of a pass: a pattern that repeats inside has many."""

LEAD_IN_COST, MISSING_COST, ODD_COST = 0.25, 0.8, 0.4
"""What a hit before the start costs, a note without a hit, a hit without a note; a pair earns 1."""


def find_start(shape: Shape, strokes: Strokes, line: Line, quarter_s: float) -> float:
    """Return the moment from which the most strokes agree and the fewest are missing.

    Strokes are counted along the line, and the moment is by the tempo that is judged by.
    """
    best, start_s = -math.inf, line.phase_s
    for phase_s in _phases(shape, strokes, line):
        number, offset = tempo_search.nearest(shape, strokes, phase_s, line.quarter_s)
        turn, worth = _best_pass(shape, strokes, Line(line.quarter_s, phase_s), number, offset)
        if worth > best:
            chosen = Line(quarter_s, phase_s)
            best, start_s = worth, _near_start(shape, strokes, chosen, number, offset, turn)
    return start_s


def _phases(shape: Shape, strokes: Strokes, line: Line) -> list[float]:
    """Return the moments at which a pass may begin: all heaps nearly as high as the highest."""
    votes = tempo_search.begin_votes(shape, strokes, line.quarter_s)
    circle_s, apart_s = shape.length * line.quarter_s, 2.5 * shape.near_s(line.quarter_s)
    found = tempo_search.highest_moments(votes, circle_s, 0.7 * float(votes.max()), apart_s)
    return [phase_s for phase_s, _ in islice(found, MOST_STARTS)]


def _best_pass(
    shape: Shape, strokes: Strokes, line: Line, number: Ints, offset: Floats
) -> tuple[int, float]:
    """Return the pass that the take most likely begins with, and how much speaks for it.

    `number` and `offset`, shaped (strokes,), are those of each stroke's nearest note
    (`tempo_search.nearest`). Every array below has one entry a pass, from `first` to `last`.
    """
    size, circle = len(shape.beat), shape.length * line.quarter_s
    agree = np.abs(offset) <= shape.own_s(line.quarter_s)
    turn = number // size
    first, last = int(turn.min()), int(turn.max())
    turns = last - first + 1
    notes = np.unique(number[agree]) // size - first
    played = np.bincount(notes, minlength=turns)
    hits = np.bincount(turn - first, minlength=turns)
    # Of the last pass only what was due by the last stroke can be missing.
    due = np.full(turns, float(size))
    end = (strokes.time_s[-1] - line.phase_s) / line.quarter_s - last * shape.length
    due[-1] = np.count_nonzero(shape.beat <= end + shape.step / 2)
    missing, odd = due - played, hits - played
    worth = played - MISSING_COST * missing - ODD_COST * odd
    # What a start at each pass is worth: all passes from there on, less the hits before as lead-in.
    before = np.concatenate([[0], np.cumsum(hits)[:-1]])
    total = np.cumsum(worth[::-1])[::-1] - LEAD_IN_COST * before
    best = int(total.argmax())
    # Of starts that are worth the same the earliest is taken.
    return first + best, float(total[best]) - 1e-9 * circle * best


def _near_start(
    shape: Shape, strokes: Strokes, line: Line, number: Ints, offset: Floats, turn: int
) -> float:
    """Return when a pass begins by all strokes that agree, at the tempo of a line.

    By all, not by those of its first bars: who begins late and settles was late there.
    """
    agree = np.abs(offset) <= shape.own_s(line.quarter_s)
    count, note = np.divmod(number[agree], len(shape.beat))
    beats = shape.beat[note] + (count - turn) * shape.length
    return float(np.median(strokes.time_s[agree] - beats * line.quarter_s))


LONG_PASS = 24
"""A pass of so many onsets is long."""

FEWEST_PASSES = 4
GROOVE_SHARE = 0.4
"""So large a share of the passes is the groove at least: a fill may end every second one."""

GROOVE_AGREE, FILL_LESS, FILL_OTHERS, FILL_STRUCK = 0.9, 0.15, 0.15, 0.5
"""In a usual pass of the groove so large a share of strokes and hits belongs together, in one with
a fill so much less; for each written stroke there so many others come, and so many in all."""


def passes_played(pattern: Pattern, hits: Sequence[Hit], tempo: float, start_s: float) -> Course:
    """Return as many passes as are played, the last one cut where the playing stops."""
    length_s = pattern_seconds(pattern, tempo)
    last_s = max((hit.time_s for hit in hits), default=start_s)
    count = max(1, math.ceil((last_s - start_s) / length_s + 1e-9) + 1)
    course = Course(pattern, tuple(Pass(n, tempo, start_s + n * length_s) for n in range(count)))
    return cut_where_stopped(MatchedTake(course, hits))


class MatchedTake:
    """A course with what became of each target and each hit of a take."""

    def __init__(self, course: Course, hits: Sequence[Hit]) -> None:
        self.course, self.hits, self.targets = course, hits, course.targets()
        self.hit_target, self.hit_outcome, self.target_outcome = match_take(self.targets, hits)

    def agreement(self) -> float:
        """Return twice the pairs over the targets and the hits from the first target to the last.

        A kit may send a second note with every stroke; what it sends beyond that counts as a hit.
        """
        if not self.targets:
            return 0.0
        first_s, last_s = self.targets[0].time_s, self.targets[-1].time_s
        own = sum(outcome in (PLAYED, RIM) for outcome in self.hit_outcome)
        odd = sum(
            outcome == EXTRA and first_s - LAG_RANGE_S <= hit.time_s <= last_s + LAG_RANGE_S
            for hit, outcome in zip(self.hits, self.hit_outcome, strict=True)
        )
        odd += max(0, self.hit_outcome.count(DOUBLE) - len(self.targets))
        wrong = self.hit_outcome.count(WRONG_PAD)
        return 2 * own / (len(self.targets) + own + odd + wrong)

    def offsets_s(self) -> Floats:
        """Return hit time minus target time of each hit that plays a target, in seconds.

        A stroke on another drum is none: in a wrong place of the pattern many notes are met so.
        """
        rows = zip(self.hits, self.hit_target, self.hit_outcome, strict=True)
        return np.array(
            [
                hit.time_s - self.targets[n].time_s
                for hit, n, outcome in rows
                if n is not None and outcome != WRONG_PAD
            ]
        )


def filled_passes(judged: Judged) -> tuple[int, ...]:
    """Return the passes, by their place in the course, where fills were played instead.

    There other strokes were played than the written ones, and no gap was left. A take has some
    where enough of its passes are the groove beyond doubt: else it was played badly.
    """
    passes = judged.course.passes
    if len(passes) < FEWEST_PASSES or any(one.from_s is not None for one in passes):
        return ()
    place = {one.index: row for row, one in enumerate(passes)}
    row = np.array([place[target.pass_index] for target in judged.targets], np.int64)
    right = np.array([outcome == PLAYED for outcome in judged.target_outcome])
    inside = np.array(pass_of_hits(judged), np.int64)
    # What a kit adds to strokes is nobody's fill.
    by_hand = [
        target is not None or outcome == EXTRA
        for target, outcome in zip(judged.hit_target, judged.hit_outcome, strict=True)
    ]
    inside = inside[np.array(by_hand, np.bool_) & (inside >= 0)]
    due, own = np.bincount(row, minlength=len(passes)), np.bincount(row, right, len(passes))
    struck = np.bincount(inside, minlength=len(passes))
    agree = 2 * own / np.maximum(1, due + struck)
    usual = float(np.quantile(agree, 1 - GROOVE_SHARE, method="higher"))
    others = struck - own >= FILL_OTHERS * due
    filled = (agree < usual - FILL_LESS) & others & (struck >= FILL_STRUCK * due)
    return tuple(np.flatnonzero(filled).tolist()) if usual >= GROOVE_AGREE else ()


def pass_of_hits(judged: Judged) -> list[int]:
    """Return the pass that each hit is in by its place in the course, -1 outside of all.

    A hit with a target is in the pass of that, others go by time.
    """
    place = {one.index: row for row, one in enumerate(judged.course.passes)}
    starts = [one.start_s for one in judged.course.passes]
    last_s = judged.targets[-1].time_s if judged.targets else -math.inf
    return [
        place[judged.targets[target].pass_index]
        if target is not None
        else bisect_right(starts, hit.time_s) - 1
        if hit.time_s <= last_s
        else -1
        for hit, target in zip(judged.hits, judged.hit_target, strict=True)
    ]


def without_passes(
    judged: Judged, left_out: Sequence[int], strikes: Sequence[Strike]
) -> tuple[Course, list[Strike], list[Strike]]:
    """Return the course without some passes, the strikes of the rest, and those of the passes.

    `strikes` are those of the judged hits, in the same order.
    """
    course = judged.course
    rest = tuple(one for row, one in enumerate(course.passes) if row not in left_out)
    own: list[Strike] = []
    others: list[Strike] = []
    for row, strike in zip(pass_of_hits(judged), strikes, strict=True):
        (others if row in left_out else own).append(strike)
    return replace(course, passes=rest), own, others


def cut_where_stopped(taken: MatchedTake) -> Course:
    """Return the course up to where the playing stops.

    It stops at the last stroke that has company: half of the onsets just before it were played.
    A pass that lacks no more than its last onset there (a long one: two) is complete, the rest is
    missed; one of which fewer than three onsets were reached was never begun, unless it is the
    only one.
    """
    course, targets, outcomes = taken.course, taken.targets, taken.target_outcome
    onsets: list[list[int]] = []
    for target in targets:
        if target.note.grace:
            continue
        if onsets and targets[onsets[-1][0]].time_s == target.time_s:
            onsets[-1].append(target.index)
        else:
            onsets.append([target.index])
    played = [any(outcomes[one] != MISSED for one in onset) for onset in onsets]
    end = _last_in_company(played)
    if end is None:
        return replace(course, passes=course.passes[:1])
    place = targets[onsets[end][0]].pass_index
    own = [n for n, onset in enumerate(onsets) if targets[onset[0]].pass_index == place]
    left = own[-1] - end
    if left <= (2 if len(own) >= LONG_PASS else 1):
        return replace(course, passes=course.passes[: place + 1])
    if place and end - own[0] + 1 < 3:
        return replace(course, passes=course.passes[:place])
    cut_s = math.nextafter(targets[onsets[end][-1]].time_s, math.inf)
    cut = replace(course.passes[place], end_s=cut_s)
    return replace(course, passes=(*course.passes[:place], cut))


def _last_in_company(played: Sequence[bool], span: int = 6) -> int | None:
    """Return the last played onset with at least half of the span before it played."""
    for end in range(len(played) - 1, -1, -1):
        before = played[max(0, end - span + 1) : end + 1]
        if (
            played[end]
            and 2 * sum(before) >= len(before)
            and sum(before[-3:]) * 2 >= len(before[-3:])
        ):
            return end
    return None


PIECE_STROKES = 24
"""Fewest strokes of a piece that has a tempo of its own."""

JUST_BEFORE_S = 1e-6
"""Pieces begin and end so much before a beat, so that rounding puts no stroke into both."""

PAST_LAST_NOTE = 1e-3
"""A piece that is interrupted holds its last note, so it ends so many quarters after it."""


def lay_course(pattern: Pattern, shape: Shape, found: list[Section], tempo: float | None) -> Course:
    """Return the course of some stretches: all at one tempo (BPM), or each piece at its own."""
    passes: list[Pass] = []
    for place, one in enumerate(found):
        ends = place == 0, place == len(found) - 1
        for number, (bpm, start_s, from_s, end_s) in enumerate(
            _pieces(pattern, shape, one, tempo, ends), len(passes)
        ):
            passes.append(Pass(number, bpm, start_s, end_s=end_s, from_s=from_s))
    return Course(pattern, tuple(passes))


def _pieces(
    pattern: Pattern, shape: Shape, one: Section, tempo: float | None, ends: tuple[bool, bool]
) -> Iterator[tuple[float, float, float | None, float | None]]:
    """Yield tempo, start, from and end of every piece of a stretch.

    `ends` say whether it is the first and the last one: the take may begin or end within a pass.
    """
    first, last = float(one.beats[0]), float(one.beats[-1])
    laps = _laps(shape, one, ends[0])
    at = played_places(pattern).at
    steps = [0.0] if tempo is not None else [at(bar.start) for bar in pattern.bars]
    cuts = _cuts(shape, one, [n * shape.length + step for n in laps for step in steps])
    whole = (laps[-1] + 1) * shape.length
    for begin, end in zip(cuts, [*cuts[1:], whole], strict=True):
        bpm, zero_s = _piece_line(pattern, one, tempo, begin, end)
        quarter_s = seconds_per_quarter(pattern, bpm)
        lap = math.floor(begin / shape.length + JUST_BEFORE_S)
        asked = begin if ends[0] or begin > first else first
        until = end if ends[1] or end <= last else last + PAST_LAST_NOTE
        starts = asked > lap * shape.length + float(shape.beat[0])
        stops = until < (lap + 1) * shape.length
        yield (
            bpm,
            zero_s + lap * shape.length * quarter_s,
            zero_s + asked * quarter_s - JUST_BEFORE_S if starts else None,
            zero_s + until * quarter_s - JUST_BEFORE_S if stops else None,
        )


def _laps(shape: Shape, one: Section, is_first: bool) -> list[int]:
    """Return the passes of a stretch; the take begins with one of which half was played."""
    lap = np.floor(one.beats / shape.length + JUST_BEFORE_S).astype(int)
    numbers, counts = np.unique(lap, return_counts=True)
    every = list(range(int(numbers[0]), int(numbers[-1]) + 1))
    if is_first and len(every) > 1 and counts[0] < len(shape.beat) / 2:
        return every[1:]
    return every


def _cuts(shape: Shape, one: Section, wished: list[float]) -> list[float]:
    """Return where pieces begin: the wished places that leave each one enough strokes.

    A pass always begins a piece.
    """
    kept = [wished[0]]
    for place in wished[1:]:
        inside = np.count_nonzero((one.beats >= kept[-1]) & (one.beats < place))
        rest = np.count_nonzero(one.beats >= place)
        new_pass = math.remainder(place, shape.length) == 0.0
        if new_pass or (inside >= PIECE_STROKES and rest >= PIECE_STROKES):
            kept.append(place)
    return kept


def _piece_line(
    pattern: Pattern, one: Section, tempo: float | None, begin: float, end: float
) -> tuple[float, float]:
    """Return the tempo of a piece and the moment of its stretch's quarter 0, by its strokes."""
    if tempo is not None:
        lag = one.time_s - one.beats * seconds_per_quarter(pattern, tempo)
        return tempo, float(np.median(lag))
    those = (one.beats >= begin) & (one.beats < end)
    if np.count_nonzero(those) < PIECE_STROKES // 2:
        those = _nearest_strokes(one, (begin + end) / 2)
    quarter_s, start_s = fitted_line(one.beats[those], one.time_s[those])
    return check_tempo(60.0 / (quarter_s * float(pattern.tempo_unit))), start_s


def _nearest_strokes(one: Section, beat: float) -> Bools:
    """Return which strokes are nearest to a place, enough of them for a line."""
    away = np.abs(one.beats - beat)
    near: Bools = away <= np.sort(away)[min(PIECE_STROKES, len(away)) - 1]
    return near
