"""The reading: everything that a judged take shows, gathered from the measures beside this file.

`doubt` is one sentence on whether the reading can be believed at all, or empty. A take of another
pattern, at another tempo or from another start still finds partners for some of its strokes by
chance, and their figures look like any others. Four signs are reported:

- fewer than half of the written strokes were played;
- more hits without a target than half of the written strokes;
- more double triggers than written strokes: no kit sends so many for single strokes;
- fewer than 19 of 20 strokes and hits have a partner, and offsets vary by more than a fifth of the
  time between strokes, from stroke to stroke hardly less. Partners found by chance are spread
  evenly between two targets: they vary by 0.29 of it, each apart from the last, while a player who
  merely wanders stays near where he was. Chance leaves many without a partner; a loose player who
  plays what is written does not.

The limits are our own choice.

Counts: targets are `played`, `wrong_pad` or `missed`, grace strokes included. Hits that belong to
no target are `extra`, `double`, `crosstalk` or `bounce`; `rim` counts rims where the head was
written (their targets count as played). A share is in percent of the written strokes. What comes
before or after the take (`trainer.measure.stroke`), a lead-in or noodling, is no stray: it counts
as `before` and `after`.

Unknown notes are those that the kit has no pad for, and notes of a pad that may be another one
(`MAYBE_CRASH`). Where most of them came when one voice was due, that voice is likely their pad.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.measure.advice import advise
from trainer.measure.after_mistake import AfterMistakes, after_mistakes
from trainer.measure.clean import DEFAULT_TOLERANCE, TakeVerdict, Tolerance, take_verdict
from trainer.measure.evenness import Evenness, evenness
from trainer.measure.figure import SPREAD_COUNT, Figure, plain_values, share
from trainer.measure.offset import Offsets, offsets, without_means
from trainer.measure.open_block import OpenBlock, open_block
from trainer.measure.power import Power, Touch, power, touch
from trainer.measure.silence import Silence, silence
from trainer.measure.stroke import STRAY_AFTER, STRAY_BEFORE, count_hits
from trainer.measure.stroke_group import Moves, moves
from trainer.measure.take_arrays import take_arrays
from trainer.measure.timekeeper import SpreadSources, sources
from trainer.measure.trend import TakeTrends, take_trends
from trainer.measure.unison import Unisons, unisons
from trainer.practice import outcomes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.stroke_group import Finding
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.outcomes import Judged


LOST_SHARE = 0.5
LOOSE_SHARE = 0.2
APART_SHARE = 0.17
PAIRED_SHARE = 0.95

BY_CHANCE_WORDS = (
    "Offsets are nearly as wide as strokes are apart: strokes may be matched by chance, and the "
    "figures mean little."
)


def doubt(take: TakeArrays, counts: OutcomeCounts) -> str:
    """Return why the figures may mislead, or an empty text."""
    if not counts.targets:
        return ""
    if counts.played < LOST_SHARE * counts.targets:
        return (
            f"Only {counts.played} of {counts.targets} strokes landed on their pad. Another "
            "pattern, tempo or start? The figures mean little."
        )
    if counts.extra > LOST_SHARE * counts.targets:
        return (
            f"{counts.extra} hits belong to no written stroke. Another pattern, tempo or start? "
            "The figures mean little."
        )
    if counts.double > counts.targets:
        return (
            f"{counts.double} double triggers, more than the {counts.targets} written strokes. In "
            "such a flood strokes are matched by chance, and the figures mean little."
        )
    paired = 2 * counts.played / (counts.targets + counts.played + counts.wrong_pad + counts.extra)
    return BY_CHANCE_WORDS if paired < PAIRED_SHARE and _paired_by_chance(take) else ""


def _paired_by_chance(take: TakeArrays) -> bool:
    offsets = take.offset_ms[take.played]
    if len(offsets) < SPREAD_COUNT:
        return False
    step = _time_between_strokes_s(take) * 1000
    local = float(np.std(np.diff(offsets))) / math.sqrt(2)
    return float(np.std(offsets)) > LOOSE_SHARE * step and local > APART_SHARE * step


def _time_between_strokes_s(take: TakeArrays) -> float:
    """Return the median time from one written stroke to the next, unisons counted once."""
    due = np.unique(take.time_s[take.main])
    return float(np.median(np.diff(due))) if len(due) > 1 else math.inf


@dataclass(frozen=True, slots=True)
class OutcomeCounts:
    """How many targets and hits there were, by outcome; `errors` are missed and wrong pad."""

    targets: int
    hits: int
    played: int
    wrong_pad: int
    missed: int
    extra: int
    double: int
    rim: int
    crosstalk: int
    bounce: int
    before: int
    after: int
    errors: Figure


def count_outcomes(judged: Judged) -> OutcomeCounts:
    """Count the outcomes of a take."""
    of_target, of_hit = Counter(judged.target_outcome), count_hits(judged)
    wrong, missed = of_target[outcomes.WRONG_PAD], of_target[outcomes.MISSED]
    return OutcomeCounts(
        targets=len(judged.targets),
        hits=len(judged.hits),
        played=of_target[outcomes.PLAYED],
        wrong_pad=wrong,
        missed=missed,
        extra=of_hit[outcomes.EXTRA],
        double=of_hit[outcomes.DOUBLE],
        rim=of_hit[outcomes.RIM],
        crosstalk=of_hit[outcomes.CROSSTALK],
        bounce=of_hit[outcomes.BOUNCE],
        before=of_hit[STRAY_BEFORE],
        after=of_hit[STRAY_AFTER],
        errors=share(wrong + missed, len(judged.targets)),
    )


MAYBE_CRASH = {52: "china", 55: "splash"}
"""General MIDI notes that many kits send from the edge of a second crash (common practice)."""

LIKELY_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class UnknownNote:
    """A note without a sure pad: how often it came, and what it is read as, "" for nothing.

    `voice` is its likely pad, "" where none is, and `near` how often it came when that was due.
    """

    note: int
    count: int
    read_as: str
    voice: str
    near: int


def unknown_notes(judged: Judged) -> tuple[UnknownNote, ...]:
    """Return the notes of a take without a sure pad, the commonest first."""
    count, due = Counter[int](), dict[int, Counter[str]]()
    for hit, target in zip(judged.hits, judged.hit_target, strict=True):
        if hit.voice is None or hit.voice == MAYBE_CRASH.get(hit.note):
            count[hit.note] += 1
            if target is not None:
                due.setdefault(hit.note, Counter())[judged.targets[target].note.voice] += 1
    found = []
    for note, times in sorted(count.items(), key=lambda row: (-row[1], row[0])):
        voice, near = due.get(note, Counter({"": 0})).most_common(1)[0]
        voice, near = (voice, near) if near > LIKELY_SHARE * times else ("", 0)
        read_as = MAYBE_CRASH.get(note, "")
        if not read_as or voice.startswith("crash"):
            found.append(UnknownNote(note, times, read_as, voice, near))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Reading:
    """What a take says; each field but the first ones is explained in the file of its name.

    `doubt` says why the figures may mislead, or is empty. `resolution_ms` is the finest time that
    the machine of the take can be trusted with (None: not known). The numbers here are not rounded
    to it; the words are. `clean` is the verdict.
    """

    title: str
    passes: int
    tempo_low: float
    tempo_high: float
    resolution_ms: float | None
    doubt: str
    clean: TakeVerdict
    counts: OutcomeCounts
    unknown_notes: tuple[UnknownNote, ...]
    open_block: OpenBlock
    offset: Offsets
    evenness: Evenness
    unisons: Unisons
    moves: Moves
    power: Power
    touch: Touch
    staying: TakeTrends
    after_mistakes: AfterMistakes
    sources: SpreadSources
    silence: Silence
    advice: tuple[Finding, ...] | None

    def to_dict(self) -> dict[str, Any]:
        """Return the reading for JSON: a figure as value, unit, count, low, high."""
        reported: dict[str, Any] = plain_values(self)
        return reported


def read_take(
    judged: Judged,
    *,
    resolution_ms: float | None = None,
    silent: Sequence[tuple[float, float]] = (),
    start_fitted: bool = False,
    allowed: Tolerance | None = DEFAULT_TOLERANCE,
) -> Reading:
    """Read a judged take; `allowed` is what counts as clean, None where that is not known.

    `start_fitted` says that the take's start was found from its own strokes: how early or late it
    is as a whole has no figure then.

    `silent` are the stretches (start, end), in seconds on the session's clock, where the click did
    not sound.
    """
    arrays = take_arrays(judged)
    counted = count_outcomes(judged)
    tempos = [one.tempo for one in judged.course.passes] or [judged.course.pattern.tempo]
    return Reading(
        title=judged.course.pattern.title,
        passes=judged.course.begun,
        tempo_low=min(tempos),
        tempo_high=max(tempos),
        resolution_ms=resolution_ms,
        doubt=doubt(arrays, counted),
        clean=take_verdict(judged, allowed) if allowed else TakeVerdict(None, ""),
        counts=counted,
        unknown_notes=unknown_notes(judged),
        open_block=open_block(judged),
        offset=without_means(offsets(arrays)) if start_fitted else offsets(arrays),
        evenness=evenness(arrays),
        unisons=unisons(arrays),
        moves=moves(arrays),
        power=power(arrays),
        touch=touch(arrays),
        staying=take_trends(arrays),
        after_mistakes=after_mistakes(arrays),
        sources=sources(arrays, silent),
        silence=silence(arrays, silent),
        advice=advise(arrays),
    )
