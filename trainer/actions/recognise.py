"""Which pattern was it? The patterns that a recorded take fits, and how well each one does.

First short runs are compared, whatever the tempo: three strokes in a row, their drums, whether they
have grace strokes, and whether the second gap is as long as the first one. Of the patterns that
share most of them with the take, the tempo is looked for that fits best; those that fit best are
laid on its first part. `agree` is the share of strokes and notes that belong together there
(`trainer.practice.passes_played.MatchedTake.agreement`), less strokes on other drums and grace
strokes too few or too many.

Hands cannot be heard, and power says little from kit to kit: patterns with the same strokes on the
same drums are one answer.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, geometric_mean
from typing import TYPE_CHECKING, Any

from trainer.actions.assess import kit_of_take
from trainer.errors import BadInput, TrainerError
from trainer.midi import take_file
from trainer.pattern import library
from trainer.pattern.as_played import played_places
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO, Level
from trainer.practice import tempo_search
from trainer.practice.align import align
from trainer.practice.matcher import read_hits

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from trainer.kit.hits import Hit
    from trainer.midi.take_file import Take
    from trainer.pattern.model import Pattern

RUNS_ALIKE = 0.05
"""Least share of runs that a pattern and a take have in common. Ours."""

TOGETHER_S, TOGETHER_BEATS = 0.06, 1 / 24
"""Strokes this close together (seconds played, quarters written) are one moment of a run."""

GRACE_S = 0.045
"""Strokes on one drum this close together are grace strokes and their main one. Ours: 22 a second
are faster than hands play."""

FITTED, LAID, LAID_S = 32, 8, 60.0
"""Of so many patterns the tempo is looked for, so many are laid on the take, and on so many
seconds of it."""

NEAR, STEPS = 0.15, 30
"""How far a tempo from runs may be off, and in how many steps either way a better one is tried."""

AS_LIKELY = 0.03
"""Answers this close to the best one are taken as equal: two takes of one player differ as much."""

FEEL = 96
"""A feel is alike where it moves strokes to the same part of a quarter, out of so many. Ours."""

FEWEST_STROKES = 8
"""Fewer strokes fit many patterns at some tempo. Ours."""

LEAST = 0.5
"""Below this no pattern is named (as in `trainer.practice.align`)."""


@dataclass(frozen=True, slots=True)
class RecogniseRequest:
    """A take, the names of the patterns it may be (None: all), and the kit it is read through."""

    path: Path
    among: tuple[str, ...] | None = None
    kit: str | None = None
    latency_ms: float | None = None


@dataclass(frozen=True, slots=True)
class PatternGuess:
    """Patterns that sound alike, the tempo (BPM) they fit at, and how well (0 to 1)."""

    names: tuple[str, ...]
    titles: tuple[str, ...]
    tempo: float
    agree: float


@dataclass(frozen=True, slots=True)
class Recognised:
    """The guesses, the best one first, for the take of a file; `sure` where one is likeliest."""

    path: Path
    take: Take
    guesses: tuple[PatternGuess, ...]
    tried: int

    @property
    def short(self) -> bool:
        """Whether there are too few strokes to name a pattern."""
        return len(self.take.strikes) < FEWEST_STROKES

    @property
    def sure(self) -> bool:
        """Whether the first guess is clearly better than the second."""
        one, *others = self.guesses or (None,)
        return one is not None and not any(
            other and one.agree - other.agree < AS_LIKELY for other in others
        )


def recognise(request: RecogniseRequest) -> Recognised:
    """Return the patterns that a take fits; raises BadInput for what is no take."""
    take = take_file.read_take(request.path)
    if len(take.strikes) < FEWEST_STROKES:
        return Recognised(request.path, take, (), 0)
    kit = kit_of_take(request.kit, request.latency_ms)
    groups = _sounding_alike(_patterns(request.among))
    found = []
    for group in groups:
        hits = _first_part(read_hits(group[0], take.strikes, kit))
        alike, tempo = _compare_runs(group[0], hits)
        if alike >= RUNS_ALIKE:
            found.append((alike, tempo, group, hits))
    found.sort(key=lambda one: -one[0])
    fitted = [
        (*_tempo_near(group[0], tempo, hits), group, hits)
        for _, tempo, group, hits in found[:FITTED]
    ]
    fitted.sort(key=lambda one: -one[0])
    guesses = [one for row in fitted[:LAID] if (one := _guess(row[2], row[1], row[3]))]
    guesses.sort(key=lambda one: -one.agree)
    return Recognised(
        request.path, take, tuple(one for one in guesses if one.agree >= LEAST), len(groups)
    )


def _patterns(among: Sequence[str] | None) -> Iterable[Pattern]:
    names = among if among is not None else [one.name for one in library.catalogue()]
    for name in names:
        try:
            yield library.load_pattern(name)
        except TrainerError:
            continue  # a faulty file is reported where patterns are listed


def _sounding_alike(patterns: Iterable[Pattern]) -> list[list[Pattern]]:
    """Return the patterns in groups of which no ear could hear a difference, the plainest first."""
    groups: dict[object, list[Pattern]] = {}
    for one in patterns:
        if one.notes:
            groups.setdefault(_sound(one), []).append(one)
    return [sorted(group, key=_plainness) for group in groups.values()]


def _plainness(pattern: Pattern) -> tuple[Any, ...]:
    """Return a key by which even alternating strokes come first, then fewer doubles, then short."""
    special = any(note.level != Level.NORMAL or note.zone or note.buzz for note in pattern.notes)
    doubles = sum(one.limb == two.limb for one, two in pairwise(pattern.notes))
    return special or bool(pattern.dynamics), doubles, pattern.length, -len(pattern.notes)


def _sound(pattern: Pattern) -> object:
    """Return what is heard of a pattern: its shortest repeat, as drums and gaps in any tempo."""
    # In whole numbers: a fraction costs a hundred times as much.
    fine = math.lcm(pattern.length.denominator, *(one.beat.denominator for one in pattern.notes))
    notes = {(int(one.beat * fine), (one.voice, one.grace)) for one in pattern.notes}
    length = _repeat(notes, int(pattern.length * fine))
    beats = sorted({beat for beat, _ in notes if beat < length})
    step = math.gcd(length, *(beat - beats[0] for beat in beats))
    once = {((beat - beats[0]) // step, drum) for beat, drum in notes if beat < length}
    places = played_places(pattern)
    feel = () if places.even else tuple(round(FEEL * place) for place in places.notes)
    return length // step, frozenset(once), feel


def _repeat(notes: set[tuple[int, tuple[str, int]]], length: int) -> int:
    """Return how long notes take until they come again, as they go round in a length."""
    for parts in (2, 3, 5, 7, 11, 13):
        turn = length // parts
        while length % parts == 0 and all(
            ((beat + turn) % length, drum) in notes for beat, drum in notes
        ):
            notes = {(beat, drum) for beat, drum in notes if beat < turn}
            length, turn = turn, turn // parts
    return length


def _first_part(hits: Sequence[Hit]) -> list[Hit]:
    own = [hit for hit in hits if not hit.flag]
    return [hit for hit in own if hit.time_s <= own[0].time_s + LAID_S]


def _compare_runs(pattern: Pattern, hits: Sequence[Hit]) -> tuple[float, float]:
    """Return the share of runs that a pattern and a take have in common, and the tempo (BPM).

    The tempo is that of the mean lengths of the runs in common, 0 where there are none.
    """
    places = played_places(pattern)
    graced = {(note.beat, note.voice) for note in pattern.notes if note.grace}
    main = sorted(
        (beat, _drum(note.voice, (note.beat, note.voice) in graced))
        for beat, note in zip(places.notes, pattern.notes, strict=True)
        if not note.grace
    )
    once = _moments(main, TOGETHER_BEATS)
    turns = [(beat + turn * places.length, drums) for turn in range(4) for beat, drums in once]
    written = _runs(turns[: len(once) + 2] if len(once) > 1 else turns)
    heard = _runs(_moments(_main_strokes(hits), TOGETHER_S))
    sizes = [sum(map(len, runs.values())) for runs in (written, heard)]
    common = written.keys() & heard.keys()
    if not common:
        return 0.0, 0.0
    alike = sum(min(len(written[run]) / sizes[0], len(heard[run]) / sizes[1]) for run in common)
    quarters = [geometric_mean(heard[run]) / geometric_mean(written[run]) for run in common]
    weights = [min(len(written[run]) / sizes[0], len(heard[run]) / sizes[1]) for run in common]
    return alike, 60.0 / (fmean(quarters, weights) * float(pattern.tempo_unit))


def _drum(voice: str, graced: bool) -> str:
    return f"{voice} after graces" if graced else voice


def _graces_alike(pattern: Pattern, hits: Sequence[Hit]) -> float:
    """Return 1 where a take has as many grace strokes to a stroke as a pattern, less where not."""
    graces = sum(note.grace > 0 for note in pattern.notes)
    written = len(pattern.notes) / (len(pattern.notes) - graces)
    heard = len(hits) / len(_main_strokes(hits))
    return min(written, heard) / max(written, heard)


def _main_strokes(hits: Sequence[Hit]) -> list[tuple[float, str]]:
    """Return strokes with their drums, grace strokes taken into the stroke that they lead to."""
    found: list[tuple[float, str]] = []
    main: dict[str, int] = {}
    follows: dict[str, float] = {}
    for hit in reversed(hits):
        voice = str(hit.voice)
        if follows.get(voice, math.inf) - hit.time_s <= GRACE_S:
            found[main[voice]] = (found[main[voice]][0], _drum(voice, True))
        else:
            main[voice] = len(found)
            found.append((hit.time_s, voice))
        follows[voice] = hit.time_s
    return found[::-1]


def _moments(strokes: Iterable[tuple[Any, str]], together: Any) -> list[tuple[Any, frozenset[str]]]:
    """Return moments with the drums that sound in them; `strokes` are in time order."""
    found: list[tuple[Any, frozenset[str]]] = []
    for at, drum in strokes:
        if found and at - found[-1][0] <= together:
            found[-1] = (found[-1][0], found[-1][1] | {drum})
        else:
            found.append((at, frozenset([drum])))
    return found


def _runs(moments: Sequence[tuple[Any, frozenset[str]]]) -> dict[object, list[float]]:
    """Return runs of three moments (drums, and the ratio of their gaps) with their lengths."""
    found: dict[object, list[float]] = defaultdict(list)
    for a, b, c in zip(moments, moments[1:], moments[2:], strict=False):
        ratio = round(2 * math.log2((c[0] - b[0]) / (b[0] - a[0])))
        found[a[1], b[1], c[1], ratio].append(float(c[0] - a[0]))
    return found


def _tempo_near(pattern: Pattern, tempo: float, hits: Sequence[Hit]) -> tuple[float, float]:
    """Return how well the middle of a take fits at the best tempo near a rough one, and that."""
    shape = tempo_search.shape_of(pattern)
    strokes = tempo_search.strokes_of(shape, hits)
    if len(strokes.time_s) < 2:
        return 0.0, tempo
    stretches = tempo_search.windows(strokes)
    unit = float(pattern.tempo_unit)
    own = len(strokes.time_s) / len(hits)
    return max(
        (own * tempo_search.mean_fit(shape, stretches, 60 / (bpm * unit)), bpm)
        for bpm in (tempo * (1 + step * NEAR / STEPS) for step in range(-STEPS, STEPS + 1))
    )


def _guess(group: Sequence[Pattern], tempo: float, hits: Sequence[Hit]) -> PatternGuess | None:
    """Return how well patterns that sound alike fit a part of a take, None where they do not."""
    try:
        found = align(group[0], hits, tempo=min(MAX_TEMPO, max(MIN_TEMPO, tempo)))
    except BadInput:
        return None
    drums = {note.voice for note in group[0].notes}
    own = sum(hit.voice in drums for hit in hits) / len(hits)
    own *= _graces_alike(group[0], hits)
    names, titles = zip(*((one.name, one.title) for one in group), strict=True)
    return PatternGuess(names, titles, tempo, found.agree * own)
