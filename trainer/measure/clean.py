"""Clean or not: the tolerance that decides a rung, on one page.

What is asked, and on what grounds:

- **Missed, wrong pad, stray, rim**, in per cent of the written strokes: our own choice. Double
  triggers and crosstalk are the kit's doing and never count.
- **Wrong zone**: strokes on the right pad where a zone out of the ordinary is written (the rim,
  open, the bell) and another one came (the head, closed, the bow): as many are allowed as rims.
  Only zones that the kit's map can send are asked of it, so a pad with one note for head and rim
  is never to blame. A hi-hat that came open where nothing is written is told, but does not count.
- **Spread** of the hands and of the feet against the click, note value by note value: root mean
  square distance of the offsets from that part's own mean. The yardstick is the least displacement
  of one stroke that listeners notice in an even sequence, 6 ms below 240 ms between strokes and
  2.5 % of the interval above (Friberg and Sundberg 1995). Each level allows a multiple of it; the
  multiples are our own choice. Strokes more than 400 ms apart count as 400 ms: subdividing helps as
  long as the subdivision stays above 200 to 250 ms (Repp 2003), so longer steps can be halved.
- **Evenness** of time: root mean square error of the time from one stroke to the next, hands and
  feet each. One stroke displaced by d changes two intervals by d, so independent displacements of
  d give intervals that err by d times the square root of two; a multiple of that (our choice).
- **Unison gap**: root mean square time between limbs meant to land together. Listeners need some
  20 ms to tell which of two sounds came first (Hirsh 1959, after Watson 2004). Of normal gaps 95 %
  stay below that with 10 ms, 85 % with 14 ms, 68 % with 20 ms. Fujii and others (2011) find the
  limbs of professionals about 8 ms apart on average at 60 to 120 BPM. It does not scale with tempo.
- **Power**: standard deviation of velocity among strokes of one voice and level. Velocity curves
  differ from kit to kit, so this is our own choice, in steps of MIDI velocity.

The mean offset is not judged: it holds the kit's latency and the player's feel. Grace strokes are
judged for being there, not for time or power.

Few strokes make rough figures. A figure fails only where a player who stands exactly at the limit
would show it at most once in fifty: counts by the Poisson law, spreads by chi-square. What is told
as allowed has this room in it, and the room shrinks as strokes add up. Spreads of fewer than eight
strokes are not judged.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import asdict, dataclass
from statistics import fmean
from typing import TYPE_CHECKING, Any

from trainer.measure.chance import room_for_count, room_for_spread
from trainer.measure.hearing import just_noticeable
from trainer.measure.strokes import interval_errors, split, strokes_of, unison_gaps
from trainer.measure.terms import value_words
from trainer.practice import outcomes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from trainer.measure.strokes import Stroke
    from trainer.practice.outcomes import Judged

NOISE = 0.02
"""How often a player at the limit may be called unclean by one figure: once in fifty."""

FEWEST = 8
LONGEST_MS = 400.0


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What still counts as clean.

    `*_percent` are per cent of the written strokes, `spread_times` and `evenness_times` multiply
    the just noticeable displacement, `gap_ms` is milliseconds, `power_steps` MIDI velocity.
    """

    level: str
    missed_percent: float
    wrong_pad_percent: float
    stray_percent: float
    rim_percent: float
    spread_times: float
    evenness_times: float
    gap_ms: float
    power_steps: float

    def to_dict(self) -> dict[str, Any]:
        """Return the tolerance as a `[clean]` table; `clean_table.tolerance` reads it again."""
        return asdict(self)


LEVELS = {
    one.level: one
    for one in (
        Tolerance("rehearsal", 1.0, 1.0, 1.0, 3.0, 2.4, 2.2, 20.0, 18.0),
        Tolerance("stage", 0.3, 0.3, 0.3, 1.0, 1.7, 1.5, 14.0, 13.0),
        Tolerance("studio", 0.05, 0.05, 0.05, 0.2, 1.3, 1.2, 10.0, 9.0),
    )
}
"""The three strictness levels by name, the most forgiving first."""

DEFAULT = LEVELS["stage"]


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was judged: `measured` against `allowed`, in `unit`, from `count` strokes.

    `place` narrows `label` down where a pattern has several note values.
    """

    name: str
    label: str
    measured: float
    allowed: float
    unit: str
    count: int
    place: str = ""

    @property
    def clean(self) -> bool:
        """True while the measured figure is within what is allowed."""
        return self.measured <= self.allowed

    @property
    def excess(self) -> float:
        """How far over: measured by allowed; where none is allowed, one counts as double."""
        return self.measured / max(self.allowed, 0.5)

    def __str__(self) -> str:
        digits = 0 if round(self.measured) > round(self.allowed) or self.clean else 1
        unit, place = f" {self.unit}" * bool(self.unit), f" in {self.place}" * bool(self.place)
        measured, allowed = f"{self.measured:.{digits}f}", f"{self.allowed:.{digits}f}"
        return f"{self.label} {measured}{unit}{place}, allowed {allowed}"


@dataclass(frozen=True, slots=True)
class CleanVerdict:
    """Clean or not, every check that was made, and those that failed, worst first."""

    clean: bool
    failed: tuple[Check, ...]
    checks: tuple[Check, ...]

    def reasons(self) -> tuple[str, ...]:
        """Return what failed in words, worst first: "hands spread 14 ms, allowed 11"."""
        return tuple(str(check) for check in self.failed)

    def figures(self) -> dict[str, Any]:
        """Return every check as plain values by its name, for a rung's line in the record."""
        return {check.name: asdict(check) for check in self.checks}


def verdict(judged: Judged, allowed: Tolerance = DEFAULT) -> CleanVerdict:
    """Decide whether a judged take (one pass, or all passes of a rung) is clean."""
    return verdict_of(strokes_of(judged), Counter(judged.hit_outcome), allowed)


def rung_verdict(
    passes: Sequence[Judged], allowed: Tolerance = DEFAULT
) -> tuple[bool, tuple[str, ...]]:
    """Decide on the passes of a rung together: clean or not, and what failed in words."""
    strokes = [stroke for judged in passes for stroke in strokes_of(judged)]
    hits = Counter(outcome for judged in passes for outcome in judged.hit_outcome)
    found = verdict_of(strokes, hits, allowed)
    return found.clean, found.reasons()


def verdict_of(
    strokes: Sequence[Stroke], hits: Mapping[str, int], allowed: Tolerance = DEFAULT
) -> CleanVerdict:
    """Decide from strokes in time order and the count of each outcome among the hits.

    Nothing asked for is not clean: there is nothing to go up on.
    """
    if not strokes:
        nothing = Check("strokes", "strokes to judge:", 0, -1, "", 0)
        return CleanVerdict(False, (nothing,), (nothing,))
    played = [one for one in strokes if one.outcome == outcomes.PLAYED and not one.note.grace]
    checks = list(_counts(strokes, hits, allowed))
    for part, group in split(played, lambda one: one.part).items():
        checks += [*_spreads(part, group, allowed), *_evenness(part, group, allowed)]
        checks += _power(part, group, allowed)
    checks += _gaps(played, allowed)
    failed = sorted((one for one in checks if not one.clean), key=lambda one: -one.excess)
    return CleanVerdict(not failed, tuple(failed), tuple(checks))


def _counts(
    strokes: Sequence[Stroke], hits: Mapping[str, int], allowed: Tolerance
) -> Iterator[Check]:
    written = len(strokes)
    targets = Counter(one.outcome for one in strokes)
    for name, label, count, percent in (
        ("missed", "missed strokes", targets[outcomes.MISSED], allowed.missed_percent),
        ("wrong_pad", "wrong pads", targets[outcomes.WRONG_PAD], allowed.wrong_pad_percent),
        ("stray", "stray strokes", hits.get(outcomes.EXTRA, 0), allowed.stray_percent),
        ("rim", "rims", hits.get(outcomes.RIM, 0), allowed.rim_percent),
        ("zone", "wrong zones", sum(one.misplaced for one in strokes), allowed.rim_percent),
    ):
        room = room_for_count(percent * written / 100, NOISE)
        yield Check(name, label, count, room, "", written)


def _spreads(part: str, played: Sequence[Stroke], allowed: Tolerance) -> Iterator[Check]:
    middle = fmean(one.offset_ms or 0.0 for one in played)
    values = split(played, lambda one: one.note.value)
    for value, strokes in values.items():
        if len(strokes) < FEWEST:
            continue
        measured = _rms([(one.offset_ms or 0.0) - middle for one in strokes])
        limit = allowed.spread_times * _yardstick(strokes)
        room = room_for_spread(limit, len(strokes) - 1, NOISE)
        place = value_words(value) if len(values) > 1 else ""
        name = f"spread.{part}.{value}"
        yield Check(name, f"{part} spread", measured, room, "ms", len(strokes), place)


def _evenness(part: str, played: Sequence[Stroke], allowed: Tolerance) -> Iterator[Check]:
    values = split(played, lambda one: one.note.value)
    for value, strokes in values.items():
        errors = interval_errors(strokes)
        if len(errors) < FEWEST:
            continue
        limit = allowed.evenness_times * math.sqrt(2) * _yardstick(strokes)
        # Neighbouring intervals share a stroke, so they tell less than their number says.
        room = room_for_spread(limit, len(errors) / 1.5, NOISE)
        place = value_words(value) if len(values) > 1 else ""
        name = f"evenness.{part}.{value}"
        yield Check(name, f"{part} uneven by", _rms(errors), room, "ms", len(errors), place)


def _gaps(played: Sequence[Stroke], allowed: Tolerance) -> Iterator[Check]:
    gaps = unison_gaps(played)
    if len(gaps) >= FEWEST:
        room = room_for_spread(allowed.gap_ms, len(gaps), NOISE)
        yield Check("gap", "unisons apart by", _rms(gaps), room, "ms", len(gaps))


def _power(part: str, played: Sequence[Stroke], allowed: Tolerance) -> Iterator[Check]:
    equal = split(played, lambda one: (one.note.voice, one.note.level))
    groups = [[float(one.velocity or 0) for one in group] for group in equal.values()]
    differences = [value - fmean(group) for group in groups for value in group if len(group) > 1]
    free = len(differences) - sum(len(group) > 1 for group in groups)
    if free >= FEWEST:
        measured = math.sqrt(math.fsum(one * one for one in differences) / free)
        room = room_for_spread(allowed.power_steps, free, NOISE)
        yield Check(f"power.{part}", f"{part} power uneven by", measured, room, "", free)


def _yardstick(strokes: Sequence[Stroke]) -> float:
    """The just noticeable displacement for these strokes (root mean square over their tempos)."""
    return _rms([just_noticeable(min(one.interval_ms, LONGEST_MS)) for one in strokes])


def _rms(values: Sequence[float]) -> float:
    return math.sqrt(math.fsum(value * value for value in values) / len(values))
