"""What became of each target and each hit: outcomes, verdicts, a judged take, zones and counts.

Outcome of a target: played, wrong pad, missed. Outcome of a hit: played, wrong pad, extra, double
(a double trigger), rim (the rim where the head was written; its target counts as played, the hit
carries the rim), bounce (what follows the first touch of a buzz stroke while it is held). A hit
that the kit's filter marked keeps its mark as its outcome.

A stroke on the right pad but on another zone than is written (head for rim) stays `played`; only a
rim for a head has an outcome of its own. A zone that the kit cannot send is never due. Where the
pattern names no zone, the ordinary one is meant; bow and edge of a cymbal then count as alike. The
edge of a hi-hat says nothing about open or closed. Half open is right where the pedal shows it; a
stroke that is half open is also open or closed, as the pedal's middle divides them.

The counts grow as verdicts become final: for the session so far, for a pass, for a bar.
`LiveVerdicts` keeps what was shown live as final, in five bytes a hit, to count how often the
judgement of the whole take differs.
"""

from __future__ import annotations

from array import array
from collections import Counter
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

from trainer.kit.voices import CHOKE, full_zone
from trainer.practice.events import BarEnded, Tally

if TYPE_CHECKING:
    from trainer.kit.hits import Hit
    from trainer.pattern.model import Note
    from trainer.practice.course import Course, Target


PLAYED = "played"
WRONG_PAD = "wrong pad"
MISSED = "missed"
EXTRA = "extra"
DOUBLE = "double"
RIM = "rim"
CROSSTALK = "crosstalk"
BOUNCE = "bounce"

TARGET_OUTCOMES = (PLAYED, WRONG_PAD, MISSED)
HIT_OUTCOMES = (PLAYED, WRONG_PAD, EXTRA, DOUBLE, RIM, CROSSTALK, BOUNCE)

RIMS = ("rim", "cross-stick")
"""Zones that are a touch gone wrong where the head was written."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """One statement about a hit and a target, at once (provisional) or for good (final).

    `hit` is None for a missed target; `target` is None for an extra or a double. `offset_s` is hit
    time minus target time (minus is early), None without a pair. `outcome` is the hit's outcome, or
    `missed`.
    """

    hit: int | None
    target: int | None
    outcome: str
    offset_s: float | None
    final: bool


@dataclass(frozen=True, slots=True)
class Judged:
    """A take with every outcome settled. Tuples run parallel to `targets` and to `hits`."""

    course: Course
    targets: tuple[Target, ...]
    hits: tuple[Hit, ...]
    target_outcome: tuple[str, ...]
    target_hit: tuple[int | None, ...]
    hit_outcome: tuple[str, ...]
    hit_target: tuple[int | None, ...]

    def offset_s(self, target: int) -> float | None:
        """Hit time minus target time in seconds (minus is early), None for a missed target."""
        hit = self.target_hit[target]
        return None if hit is None else self.hits[hit].time_s - self.targets[target].time_s


def hit_outcome(hit: Hit, target: Target) -> str:
    """Return the outcome of a hit that was meant for a target."""
    if hit.voice != target.note.voice or (hit.zone == CHOKE) != target.note.choke:
        return WRONG_PAD
    rim = hit.zone in RIMS and target.note.zone in ("", "head")
    return RIM if rim else PLAYED


ALIKE_ZONES = frozenset(("bow", "edge"))
RIMS_FOR_HEADS = tuple(f"{rim} for head" for rim in RIMS)
"""What has an outcome of its own, as `instead` says it."""

HALF_OPEN = "half-open"
HIHAT_OPENNESS = frozenset(("open", "closed", HALF_OPEN))


def zone_is_certain(note: Note, hit: Hit) -> bool:
    """Return whether a hit on the note's pad can say if it fell on the zone that is written."""
    written = full_zone(note.voice, note.zone)
    if hit.voice != note.voice or (hit.zones and written not in hit.zones):
        return False
    return not (note.voice == "hihat" and hit.zone == "edge" and written in HIHAT_OPENNESS)


def zone_hit(note: Note, hit: Hit) -> str:
    """Return the zone a hit fell on: the one that is written, where the hit does not say."""
    written = full_zone(note.voice, note.zone)
    struck = full_zone(note.voice, hit.zone)
    if written == HALF_OPEN and hit.half:
        struck = HALF_OPEN
    alike = not note.zone and {written, struck} <= ALIKE_ZONES
    return struck if zone_is_certain(note, hit) and not alike else written


def misplaced(note: Note, hit: Hit) -> bool:
    """Return whether the pattern names a zone out of the ordinary and the hit fell elsewhere."""
    written = full_zone(note.voice, note.zone)
    return written != full_zone(note.voice, "") and zone_hit(note, hit) != written


def wrong_zone(note: Note, hit: Hit) -> str:
    """Return "head for rim" where a hit fell on another zone than is written, else nothing."""
    if hit.voice != note.voice:
        return ""
    written, struck = full_zone(note.voice, note.zone), zone_hit(note, hit)
    return "" if struck == written else f"{struck} for {written}"


_CODE = {outcome: code for code, outcome in enumerate(HIT_OUTCOMES)}
_NOT_SET = -1


class LiveVerdicts:
    """The final outcome and target of every hit by its index: five bytes a hit."""

    def __init__(self) -> None:
        self._outcome = array("b")
        self._target = array("i")

    def add(self, verdict: Verdict) -> None:
        """Note a final verdict on a hit; missed targets follow from the hits."""
        if verdict.hit is None or not verdict.final:
            return
        missing = verdict.hit + 1 - len(self._outcome)
        if missing > 0:
            self._outcome.extend([_NOT_SET] * missing)
            self._target.extend([_NOT_SET] * missing)
        self._outcome[verdict.hit] = _CODE[verdict.outcome]
        self._target[verdict.hit] = _NOT_SET if verdict.target is None else verdict.target

    def differences(self, judged: Judged) -> int:
        """Return how many hits have another outcome or target than was shown."""
        return sum(
            self._of(hit) != (_CODE[outcome], _NOT_SET if target is None else target)
            for hit, (outcome, target) in enumerate(
                zip(judged.hit_outcome, judged.hit_target, strict=True)
            )
        )

    def _of(self, hit: int) -> tuple[int, int]:
        if hit >= len(self._outcome):
            return (_NOT_SET, _NOT_SET)
        return (self._outcome[hit], self._target[hit])


class RunningCounts:
    """Outcomes counted, and the mean and spread of the offsets of main strokes (seconds).

    The spread is the standard deviation of the sample (n - 1). A rim hit counts as `rim` and its
    target as played; `played` counts targets.
    """

    def __init__(self) -> None:
        self.outcomes: Counter[str] = Counter()
        self.missed: Counter[str] = Counter()
        self.wrong: Counter[str] = Counter()
        self.zones: Counter[str] = Counter()
        self.offsets = 0
        self.mean = 0.0
        self._squares = 0.0

    def add(self, verdict: Verdict, target: Target | None) -> None:
        """Count one final verdict; `target` is the one it names."""
        self.outcomes[verdict.outcome] += 1
        if target is None:
            return
        if verdict.outcome == MISSED:
            self.missed[target.note.voice] += 1
        elif verdict.outcome == WRONG_PAD:
            self.wrong[target.note.voice] += 1
        elif verdict.offset_s is not None and target.note.grace == 0:
            self._add_offset(verdict.offset_s)

    def add_zone(self, note: Note, hit: Hit) -> None:
        """Count a hit on the pad of its note that fell on another zone than is written."""
        other = wrong_zone(note, hit)
        if other and other not in RIMS_FOR_HEADS:
            self.zones[other] += 1

    def take_back(self, target: Target) -> None:
        """Forget that a target was missed (its pass was cut off before it)."""
        self.outcomes[MISSED] -= 1
        self.missed[target.note.voice] -= 1

    def _add_offset(self, offset_s: float) -> None:
        self.offsets += 1
        step = offset_s - self.mean
        self.mean += step / self.offsets
        self._squares += step * (offset_s - self.mean)

    @property
    def played(self) -> int:
        """Targets played on the right pad, on its rim too."""
        return self.outcomes[PLAYED] + self.outcomes[RIM]

    @property
    def faults(self) -> int:
        """Strokes missed, misplaced or not written; double triggers are the kit's."""
        return sum(self.outcomes[one] for one in (MISSED, WRONG_PAD, EXTRA, RIM))

    @property
    def offset_mean_s(self) -> float | None:
        """Mean offset, None before the first one."""
        return self.mean if self.offsets else None

    @property
    def offset_spread_s(self) -> float | None:
        """Standard deviation of the offsets, None for fewer than two."""
        return sqrt(self._squares / (self.offsets - 1)) if self.offsets > 1 else None

    def tally(self) -> Tally:
        """Return the counts as the event a screen draws."""
        outcomes = self.outcomes
        return Tally(
            self.played,
            outcomes[WRONG_PAD],
            outcomes[MISSED],
            outcomes[EXTRA],
            outcomes[DOUBLE],
            outcomes[RIM],
            self.offset_mean_s,
            self.offset_spread_s,
        )

    def bar_ended(self, pass_index: int, bar: int, targets: int) -> BarEnded:
        """Return the counts as the event that ends a bar."""
        outcomes = self.outcomes
        return BarEnded(
            pass_index,
            bar,
            targets,
            self.played,
            outcomes[EXTRA],
            outcomes[DOUBLE],
            outcomes[RIM],
            {voice: count for voice, count in self.missed.items() if count},
            {voice: count for voice, count in self.wrong.items() if count},
            self.offset_mean_s,
            self.offset_spread_s,
            dict(self.zones),
        )
