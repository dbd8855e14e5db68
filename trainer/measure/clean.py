"""Clean or not: the tolerance that decides a rung, and the `[clean]` table that sets it.

What is checked, and why:

- **Missed, wrong pad, stray, rim**, in percent of the written strokes: our own choice. Double
  triggers and crosstalk come from the kit and never count.
- **Wrong zone**: the right pad, but not the special zone that is written (the rim, open, the
  bell). As many are allowed as rims. Only zones that the kit can send are checked: a pad with one
  note for head and rim never counts against the player. A hi-hat played open where no zone is
  written is reported, not counted.
- **Spread** of the hands and of the feet against the click, one note value at a time: root mean
  square distance of the offsets from that part's own mean. The unit is the smallest shift of one
  stroke that listeners notice in an even sequence: 6 ms below 240 ms between strokes, 2.5%
  of the interval above (Friberg and Sundberg 1995). Each level allows a multiple of it; the
  multiples are our own choice. Strokes more than 400 ms apart count as 400 ms: subdividing helps
  as long as the subdivision stays above 200 to 250 ms (Repp 2003), so longer steps can be halved.
- **Evenness** of time: root mean square error of the time from one stroke to the next, hands and
  feet each. One stroke displaced by d changes two intervals by d, so independent displacements of
  d give interval errors of d times the square root of two; a multiple of that (our choice).
- **Unison gap**: root mean square time between limbs meant to land together, every two of them
  (`trainer.measure.stroke`). Listeners need some
  20 ms to notice which of two sounds was first (Hirsh 1959, after Watson 2004). Of normal gaps
  95% stay below that with 10 ms, 85% with 14 ms, 68% with 20 ms: the limits are our own choice from
  these shares. That there are two sounds is heard from 2 to 3 ms on (Hirsh 1959), which nobody
  plays to. Published gaps of drummers are signed means, from which no such limit follows. It does
  not scale with tempo.
- **Power**: standard deviation of velocity among strokes of one voice and level. Velocity curves
  differ from kit to kit, so this is our own choice, in steps of MIDI velocity.

The mean offset is not checked: it contains the kit's latency and the player's feel. Grace strokes
only have to be there; their time and power are not checked.

Few strokes give rough figures. A figure fails only where a player exactly at the limit would show
it at most once in fifty: counts by the Poisson law, spreads by chi-square. The limit that is shown
has this room in it, and the room shrinks as strokes add up. Spreads of fewer than eight strokes
are not checked.

A take is too short for a verdict while fewer than eight strokes were written from the first one
that was played to the last: who plays four strokes and stops is not judged by those that came
before or after. From eight on all strokes that were due count. A rung always has a verdict.

A rung whose length nobody chose lasts as long as the answer needs (Wald 1945): after each pass
every spread is too wide, narrow enough or open, and the rung ends when one is too wide or none is
open. A spread of 0.9 of its limit is called too wide at most once in fifty, one of 1.2 narrow
enough at most once in twenty; in between either answer may come. Strokes in a row that are alike
count as fewer, and the longest rung decides by its own room. There the limit is shown without room.

A clean spread says that your strokes keep together within the rung, not that they keep to the
click: it is measured from the rung's own mean, so a mean that slowly moves from rung to rung is
forgiven. That is meant: a limit about the click would fail a steady player for the kit's latency or
for feel. In simulated players whose time wanders over some 50 strokes, spread 1.4 times the limit
as measured over many rungs, 92% of rungs were called clean, for within one rung they were that even
(tests/bench/bench_coach.py, `test_rungs`). The wander itself is in the spread of the whole session,
which the summary shows.

The **fastest clean tempo** of a session (BPM) is a fact where the ceiling is an estimate: the tempo
of its fastest clean rung. Without a ladder, whole passes in a row at one tempo are judged as a rung
is, once they hold as many strokes as a rung does.

In a TOML file, the `[clean]` table names a level and may change single figures:

    [clean]
    level = "solid"
    gap_ms = 12
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import asdict, dataclass, fields, replace
from itertools import groupby
from statistics import fmean
from typing import TYPE_CHECKING, Any

from trainer.checked import FaultList, choice, number, read_fields
from trainer.measure.clean_check import (
    FALSE_ALARM_SHARE,
    CleanCheck,
    Series,
    rms,
    spread_check,
)
from trainer.measure.stroke import (
    count_hits,
    group_strokes,
    interval_errors,
    judged_strokes,
    take_limits_s,
    unison_gaps,
)
from trainer.measure.threshold import just_noticeable_ms, room_for_count
from trainer.pattern.description import value_words
from trainer.practice import outcomes
from trainer.practice.course import pass_end
from trainer.practice.ladder import STROKES_A_RUNG, RungVerdict

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from trainer.measure.stroke import JudgedStroke
    from trainer.practice.outcomes import Judged


FEWEST_STROKES = 8
LONGEST_INTERVAL_MS = 400.0


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What still counts as clean.

    `*_percent` are percent of the written strokes, `spread_times` and `evenness_times` multiply
    the just noticeable shift, `gap_ms` is milliseconds, `power_steps` MIDI velocity.
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
        """Return the tolerance as a `[clean]` table; `read_tolerance` reads it back."""
        return asdict(self)


STRICTNESS_LEVELS = {
    one.level: one
    for one in (
        Tolerance("loose", 1.0, 1.0, 1.0, 3.0, 2.4, 2.2, 20.0, 18.0),
        Tolerance("solid", 0.3, 0.3, 0.3, 1.0, 1.7, 1.5, 14.0, 13.0),
        Tolerance("tight", 0.05, 0.05, 0.05, 0.2, 1.3, 1.2, 10.0, 9.0),
    )
}
"""The three strictness levels by name, the most forgiving first."""

DEFAULT_TOLERANCE = STRICTNESS_LEVELS["solid"]

_FORMER_LEVELS = {"rehearsal": "loose", "stage": "solid", "studio": "tight"}
"""What the levels were called; settings and saved sessions may still say so."""


def level_name(name: str) -> str:
    """Return a level by the name it has today; any other word as it is."""
    return _FORMER_LEVELS.get(name, name)


@dataclass(frozen=True, slots=True)
class CleanVerdict:
    """Clean or not, every check that was made, and those that failed, worst first."""

    clean: bool
    failed: tuple[CleanCheck, ...]
    checks: tuple[CleanCheck, ...]

    def reasons(self) -> tuple[str, ...]:
        """Return what failed in words, worst first: "hands spread 14 ms, limit 11"."""
        return tuple(str(check) for check in self.failed)

    def figures(self) -> dict[str, Any]:
        """Return every check as plain values by its name, for a rung's line in the record."""
        return {check.name: asdict(check) for check in self.checks}


@dataclass(frozen=True, slots=True)
class TakeVerdict:
    """The verdict on a whole take: `clean` is None where there is too little to say.

    `strict` is the level, `failed` has what failed as plain values, the worst first.
    """

    clean: bool | None
    strict: str
    failed: tuple[dict[str, Any], ...] = ()


def take_verdict(judged: Judged, allowed: Tolerance = DEFAULT_TOLERANCE) -> TakeVerdict:
    """Decide on a whole take, all its passes together.

    `clean` is None where `strokes_taken_up` is under FEWEST_STROKES: too little to say anything.
    """
    if strokes_taken_up(judged) < FEWEST_STROKES:
        return TakeVerdict(None, allowed.level)
    found = clean_verdict(judged, allowed)
    return TakeVerdict(found.clean, allowed.level, tuple(one.document() for one in found.failed))


def strokes_taken_up(judged: Judged) -> int:
    """Return how many strokes were written from the first one played to the last, on whatever pad.

    A stroke for a target counts at that target, a stray inside the take at its moment.
    """
    begin_s, end_s = take_limits_s(judged)
    at_s = [
        hit.time_s if target is None else judged.targets[target].time_s
        for hit, target, outcome in zip(
            judged.hits, judged.hit_target, judged.hit_outcome, strict=True
        )
        if target is not None or (outcome == outcomes.EXTRA and begin_s <= hit.time_s <= end_s)
    ]
    if not at_s:
        return 0
    return sum(min(at_s) <= target.time_s <= max(at_s) for target in judged.targets)


def clean_verdict(judged: Judged, allowed: Tolerance = DEFAULT_TOLERANCE) -> CleanVerdict:
    """Decide whether a judged take (one pass, or all passes of a rung) is clean."""
    return strokes_verdict(judged_strokes(judged), count_hits(judged), allowed)


def rung_verdict(
    passes: Sequence[Judged], more: bool | None = None, *, allowed: Tolerance = DEFAULT_TOLERANCE
) -> RungVerdict:
    """Decide on the passes of a rung together.

    `more` is None where the player chose how long a rung is; else it says whether passes may still
    be added: then the verdict may be open.
    """
    strokes = [stroke for judged in passes for stroke in judged_strokes(judged)]
    hits: Counter[str] = Counter()
    for judged in passes:
        hits.update(count_hits(judged))
    found = strokes_verdict(strokes, hits, allowed, more)
    tightest = max(found.checks, key=lambda one: one.used)
    undecided = found.clean and any(one.undecided for one in found.checks)
    named = str(tightest) if found.clean and tightest.used else ""
    return RungVerdict(found.clean, found.reasons(), undecided, named, len(strokes))


def strokes_verdict(
    strokes: Sequence[JudgedStroke],
    hits: Mapping[str, int],
    allowed: Tolerance = DEFAULT_TOLERANCE,
    more: bool | None = None,
) -> CleanVerdict:
    """Decide from strokes in time order and the count of each outcome among the hits.

    `more` is that of `rung_verdict`. Without a written stroke it is not clean: nothing earns the
    next tempo.
    """
    if not strokes:
        nothing = CleanCheck("strokes", "no written strokes", 0, -1, "", 0)
        return CleanVerdict(False, (nothing,), (nothing,))
    played = [
        one
        for one in strokes
        if one.outcome == outcomes.PLAYED and not (one.note.grace or one.note.choke)
    ]
    checks = list(_count_checks(strokes, hits, allowed))
    for part, group in group_strokes(played, lambda one: one.part).items():
        checks += _spread_checks(part, group, allowed, more)
        checks += _evenness_checks(part, group, allowed, more)
        checks += _power_checks(part, group, allowed, more)
    checks += _gap_checks(played, allowed, more)
    failed = sorted((one for one in checks if not one.clean), key=lambda one: -one.excess)
    return CleanVerdict(not failed, tuple(failed), tuple(checks))


def fastest_clean_tempo(
    judged: Judged,
    rungs: Iterable[tuple[float, bool]] = (),
    allowed: Tolerance = DEFAULT_TOLERANCE,
) -> float | None:
    """Return the fastest tempo (BPM) that was played clean, None where none was.

    `rungs` are the (tempo, clean) of a ladder; where there are none, the passes decide.
    """
    known = list(rungs) or list(_stretches(judged, allowed))
    return max((tempo for tempo, clean in known if clean), default=None)


def _stretches(judged: Judged, allowed: Tolerance) -> Iterator[tuple[float, bool]]:
    """Yield the tempo of passes in a row at one tempo, and whether they were clean together.

    Passes that were cut short are left out, and so are stretches with too few strokes to judge.
    """
    strokes = judged_strokes(judged)
    hits = [(hit.time_s, one) for hit, one in zip(judged.hits, judged.hit_outcome, strict=True)]
    whole = [one for one in judged.course.passes if one.end_s is None and one.from_s is None]
    for tempo, group in groupby(whole, key=lambda one: one.tempo):
        passes = {one.index: one for one in group}
        own = [one for one in strokes if one.pass_index in passes]
        if len(own) < STROKES_A_RUNG:
            continue
        spans = [(one.start_s, pass_end(judged.course.pattern, one)) for one in passes.values()]
        inside = Counter(what for at, what in hits if any(a <= at < b for a, b in spans))
        yield tempo, strokes_verdict(own, inside, allowed).clean


def _count_checks(
    strokes: Sequence[JudgedStroke], hits: Mapping[str, int], allowed: Tolerance
) -> Iterator[CleanCheck]:
    written = len(strokes)
    targets = Counter(one.outcome for one in strokes)
    for name, label, count, percent in (
        ("missed", "missed strokes", targets[outcomes.MISSED], allowed.missed_percent),
        ("wrong_pad", "wrong pads", targets[outcomes.WRONG_PAD], allowed.wrong_pad_percent),
        ("stray", "stray strokes", hits.get(outcomes.EXTRA, 0), allowed.stray_percent),
        ("rim", "rims", hits.get(outcomes.RIM, 0), allowed.rim_percent),
        ("zone", "wrong zones", sum(one.misplaced for one in strokes), allowed.rim_percent),
    ):
        room = room_for_count(percent * written / 100, FALSE_ALARM_SHARE)
        yield CleanCheck(name, label, count, room, "", written)


def _spread_checks(
    part: str, played: Sequence[JudgedStroke], allowed: Tolerance, more: bool | None
) -> Iterator[CleanCheck]:
    middle = fmean(one.offset_ms or 0.0 for one in played)
    values = group_strokes(played, lambda one: one.note.value)
    for value, strokes in values.items():
        if len(strokes) < FEWEST_STROKES:
            continue
        away = [(one.offset_ms or 0.0) - middle for one in strokes]
        limit = allowed.spread_times * _just_noticeable_rms(strokes)
        place = value_words(value) if len(values) > 1 else ""
        words = f"spread.{part}.{value}", f"{part} spread", "ms", place
        yield spread_check(words, Series(away, len(away) - 1, rms(away)), limit, more)


def _evenness_checks(
    part: str, played: Sequence[JudgedStroke], allowed: Tolerance, more: bool | None
) -> Iterator[CleanCheck]:
    values = group_strokes(played, lambda one: one.note.value)
    for value, strokes in values.items():
        errors = interval_errors(strokes)
        if len(errors) < FEWEST_STROKES:
            continue
        limit = allowed.evenness_times * math.sqrt(2) * _just_noticeable_rms(strokes)
        place = value_words(value) if len(values) > 1 else ""
        words = f"evenness.{part}.{value}", f"{part} uneven by", "ms", place
        # Neighbouring intervals share a stroke, so they are worth less than their count.
        series = Series(errors, len(errors) / 1.5, rms(errors))
        yield spread_check(words, series, limit, more)


def _gap_checks(
    played: Sequence[JudgedStroke], allowed: Tolerance, more: bool | None
) -> Iterator[CleanCheck]:
    gaps, independent = unison_gaps(played)
    if independent >= FEWEST_STROKES:
        words = "gap", "unisons apart by", "ms", ""
        yield spread_check(words, Series(gaps, independent, rms(gaps)), allowed.gap_ms, more)


def _power_checks(
    part: str, played: Sequence[JudgedStroke], allowed: Tolerance, more: bool | None
) -> Iterator[CleanCheck]:
    equal = group_strokes(played, lambda one: (one.note.voice, one.note.level))
    middle = {
        key: fmean(float(one.velocity or 0) for one in group)
        for key, group in equal.items()
        if len(group) > 1
    }
    away = [
        float(one.velocity or 0) - middle[one.note.voice, one.note.level]
        for one in played
        if (one.note.voice, one.note.level) in middle
    ]
    free = len(away) - len(middle)
    if free >= FEWEST_STROKES:
        measured = math.sqrt(math.fsum(one * one for one in away) / free)
        words = f"power.{part}", f"{part} vary in power by", "", ""
        yield spread_check(words, Series(away, free, measured), allowed.power_steps, more)


def _just_noticeable_rms(strokes: Sequence[JudgedStroke]) -> float:
    """The just noticeable shift for these strokes (root mean square over their tempos)."""
    return rms([just_noticeable_ms(min(one.interval_ms, LONGEST_INTERVAL_MS)) for one in strokes])


LARGEST_FIGURE = 1000.0


def _read_level(value: Any) -> str:
    """Return the level that a table names, by its present name."""
    return choice(*STRICTNESS_LEVELS)(level_name(value) if isinstance(value, str) else value)


_TOLERANCE_READERS = {
    field.name: _read_level if field.name == "level" else number(0, LARGEST_FIGURE)
    for field in fields(Tolerance)
}


def read_tolerance(table: Mapping[str, Any], source: str = "") -> Tolerance:
    """Return the tolerance that a `[clean]` table names; `source` is the text it is part of.

    Raises BadInput, or Faults for several: an unknown key (with the nearest known one), an unknown
    level, a figure that is not a number from 0 to 1000.
    """
    faults = FaultList(source)
    found = read_fields(table, _TOLERANCE_READERS, faults, ("clean",))
    faults.show()
    return replace(STRICTNESS_LEVELS[found.pop("level", DEFAULT_TOLERANCE.level)], **found)
