"""How a section is played: its swing, its tempo and its dynamics, from text to stretches of beats.

Readers raise BadInput for what cannot be meant, such as a crescendo without an end. Whether all of
it goes together with the bars is checked before anything is laid out (`feel_faults`); only a
stroke that swing would pull away from its neighbour shows afterwards (`torn_strokes`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING, Any

from trainer.checked import shortened, shown
from trainer.errors import BadInput
from trainer.pattern.language import spelling
from trainer.pattern.model import (
    DYNAMICS,
    MAX_TEMPO,
    MIN_TEMPO,
    MOST_SWING,
    NOTE_VALUES,
    STRAIGHT,
    Dynamic,
    Swing,
    TempoChange,
    beat_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trainer.pattern.model import Bar, Meter, Note

SWINGING = ("4", "8", "16", "32")
"""The note values that can swing."""

SHUFFLE = "shuffle"
_SWING_FIX = 'write a note value and a ratio, such as "8 2:1" or "16 60%"'
_TEMPO_FIX = 'write 80, "80 to 120", "to 120", "80 to 120 over 4 bars" or "8t = 8"'
_DYNAMICS_FIX = f'write marks from {", ".join(DYNAMICS)}, such as "p", "p < f" or "mf > pp"'
DEFAULT_TEMPO = 60.0


@dataclass(frozen=True, slots=True)
class WrittenSwing:
    """Swing as a section writes it: the value that swings, and the share of its first stroke."""

    value: str
    share: Fraction


@dataclass(frozen=True, slots=True)
class WrittenTempo:
    """A tempo as a section writes it: BPM, None for the tempo before; what it changes to (`to`).

    `over` is the bars a gradual change takes, None for all of the section. `ratio` is what a
    metric modulation multiplies the tempo before by.
    """

    bpm: float | None = None
    to: float | None = None
    over: int | None = None
    ratio: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True)
class WrittenDynamic:
    """One part of a section's dynamics: a mark that holds, or that moves to another (`to`)."""

    mark: str
    to: str = ""


def read_swing(value: Any) -> WrittenSwing | None:
    """Return swing from `8`, `8 2:1`, `16 60%` or `shuffle`; None for `none` and for 1:1."""
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    if not isinstance(text, str):
        raise BadInput(f"{shown(value)} is no swing", fix=_SWING_FIX)
    words = text.split()
    if words == ["none"]:
        return None
    if words == [SHUFFLE]:
        words = ["8", "2:1"]
    if sum(word.strip(",") in NOTE_VALUES for word in words) > 1:
        raise BadInput("only one note value can swing at a time", fix="keep one of them")
    if not 1 <= len(words) <= 2 or words[0] not in NOTE_VALUES:
        raise BadInput(f'"{shortened(text)}" is no swing', fix=_SWING_FIX)
    if words[0] not in SWINGING:
        raise BadInput(
            f"{words[0]} cannot swing: only {', '.join(SWINGING)} can",
            fix="tuplets and dotted notes are played as they are written",
        )
    share = _share(words[1] if len(words) == 2 else "2:1")
    return None if share == STRAIGHT else WrittenSwing(words[0], share)


def _share(text: str) -> Fraction:
    """Return which part of two strokes the first one has: of `2:1`, `60%` or `66.7%`."""
    long, colon, short = text.partition(":")
    share = None
    if colon and all(part.isascii() and part.isdecimal() for part in (long, short)):
        if len(text) <= 7 and int(long) + int(short):
            share = Fraction(int(long), int(long) + int(short))
    elif text.endswith("%") and len(text) <= 7 and _is_plain_number(text[:-1]):
        share = Fraction(text[:-1]) / 100
    if share is None:
        raise BadInput(f'"{shortened(text)}" is no ratio of swing', fix=_SWING_FIX)
    if not STRAIGHT <= share <= MOST_SWING:
        raise BadInput(
            f"{shortened(text)} is no swing: the first stroke has 50% to 83% of the time of both",
            fix="write the longer stroke first, such as 2:1 or 60%",
        )
    return share


def _is_plain_number(text: str) -> bool:
    """Return whether a text is a number in digits with at most one point in it."""
    return text.isascii() and text.replace(".", "", 1).isdecimal() and text[0] != "."


def read_tempo(value: Any) -> WrittenTempo:
    """Return a tempo: BPM, `80 to 120`, `to 120`, either `over 4 bars`, or `8t = 8`."""
    if not isinstance(value, str):
        return WrittenTempo(read_bpm(value))
    words = value.split()
    if words[1:2] == ["="]:
        return _modulation(value, words)
    over = None
    if "over" in words:
        at = words.index("over")
        over, words = _bar_count(value, words[at + 1 :]), words[:at]
    if words[-1:] == ["to"]:
        raise BadInput(f'"{shortened(value)}" does not say which tempo it reaches', fix=_TEMPO_FIX)
    start, goal = words, None
    if words[-2:-1] == ["to"]:
        start, goal = words[:-2], _bpm_of(words[-1], value)
    if len(start) > 1 or (not start and goal is None):
        raise BadInput(f'"{shortened(value)}" is no tempo', fix=_TEMPO_FIX)
    if over is not None and goal is None:
        raise BadInput(f'"{shortened(value)}" does not say which tempo it reaches', fix=_TEMPO_FIX)
    return WrittenTempo(_bpm_of(start[0], value) if start else None, goal, over)


def _modulation(text: str, words: list[str]) -> WrittenTempo:
    """Return a metric modulation: what was the first note value is from now on the second."""
    if len(words) != 3:
        raise BadInput(f'"{shortened(text)}" is no metric modulation', fix='write "8t = 8"')
    old, new = (spelling.value(word) for word in (words[0], words[2]))
    return WrittenTempo(ratio=new.length / old.length)


def _bar_count(text: str, words: list[str]) -> int:
    if len(words) == 2 and words[1] in ("bar", "bars"):
        words = words[:1]
    if len(words) != 1 or len(words[0]) > 5 or not (words[0].isascii() and words[0].isdecimal()):
        raise BadInput(f'"{shortened(text)}" does not say over how many bars', fix=_TEMPO_FIX)
    if not int(words[0]):
        raise BadInput("a tempo cannot change over 0 bars", fix="write at least over 1 bar")
    return int(words[0])


def _bpm_of(word: str, text: str) -> float:
    if len(word) > 9 or not _is_plain_number(word):
        raise BadInput(f'"{shortened(text)}" is no tempo', fix=_TEMPO_FIX)
    return read_bpm(float(word))


def read_bpm(value: Any) -> float:
    """Return a tempo in BPM."""
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not number or not MIN_TEMPO <= value <= MAX_TEMPO:
        raise BadInput(
            f"{shown(value)} is not a tempo from {MIN_TEMPO:g} to {MAX_TEMPO:g} BPM",
            fix="write a number in that range",
        )
    return float(value)


def read_dynamics(value: Any) -> tuple[WrittenDynamic, ...]:
    """Return dynamics such as `p`, `p < f` or `pp < ff > p`; the parts share the section evenly."""
    if not isinstance(value, str) or len(value) > 1000:
        raise BadInput(f"{shown(value)} is no dynamics", fix=_DYNAMICS_FIX)
    words = value.replace("<", " < ").replace(">", " > ").split()
    if not words:
        raise BadInput("no mark is written", fix=_DYNAMICS_FIX)
    found: list[WrittenDynamic] = []
    reached = False
    for at, word in enumerate(words):
        if word in "<>":
            continue
        if word not in DYNAMICS:
            raise BadInput(f'"{shortened(word)}" is no mark of loudness', fix=_DYNAMICS_FIX)
        following = words[at + 1 : at + 3]
        if following and following[0] in "<>":
            found.append(_hairpin(word, following))
        elif not reached:
            found.append(WrittenDynamic(word))
        reached = bool(following) and following[0] in "<>"
    if words[0] in "<>":
        raise BadInput(f"a {_HAIRPINS[words[0]]} has no beginning", fix="write p < f")
    return tuple(found)


_HAIRPINS = {"<": "crescendo", ">": "diminuendo"}


def _hairpin(mark: str, following: list[str]) -> WrittenDynamic:
    """Return a crescendo or diminuendo from a mark; `following` is its sign and what it reaches."""
    name = _HAIRPINS[following[0]]
    if len(following) < 2 or following[1] in "<>":
        at = DYNAMICS.index(mark) + (1 if following[0] == "<" else -1)
        goal = DYNAMICS[min(max(at, 0), len(DYNAMICS) - 1)]
        fix = f"write the mark it reaches: {mark} {following[0]} {goal}"
        raise BadInput(f"a {name} has no end", fix=fix)
    to = following[1]
    if to not in DYNAMICS:
        raise BadInput(f'"{shortened(to)}" is no mark of loudness', fix=_DYNAMICS_FIX)
    louder = DYNAMICS.index(to) - DYNAMICS.index(mark)
    if louder == 0 or (louder > 0) is not (name == "crescendo"):
        sign = ">" if louder < 0 else "<"
        fix = f"write {mark} {sign} {to}" if louder else "write the mark once"
        raise BadInput(f"a {name} from {mark} to {to} does not get there", fix=fix)
    return WrittenDynamic(mark, to)


def feel_faults(
    swing: WrittenSwing | None, tempo: WrittenTempo | None, meters: Sequence[Meter], bars: int
) -> Iterator[BadInput]:
    """Yield what does not go together with a section of so many bars; `where` is its key."""
    if swing and all(meter.length < 2 * NOTE_VALUES[swing.value].length for meter in meters):
        yield BadInput(
            f"a bar of {meters[0]} is too short for two {swing.value} to swing",
            where="swing",
            fix='swing a shorter value, or write swing = "none"',
        )
    if tempo and tempo.over and tempo.over > bars:
        yield BadInput(
            f"the tempo changes over {tempo.over} bars, but the section has only {bars}",
            where="tempo",
            fix=f"write over {bars} or fewer, or a longer section",
        )


@dataclass(frozen=True, slots=True)
class SectionTempo:
    """The tempo a section begins at and the one it changes to, None where it keeps it."""

    start: float
    to: float | None = None
    over: int | None = None


def planned_tempo(tempo: WrittenTempo | None, before: float | None, usual: float) -> SectionTempo:
    """Return a section's tempo after a section that ended at a tempo, None before the first.

    `usual` is the first tempo where none is written.

    Raises BadInput under the key `tempo` where there is none to change, or where it becomes one
    that cannot be played.
    """
    if tempo is None:
        return SectionTempo(usual if before is None else before)
    if tempo.bpm is None and before is None:
        raise BadInput(
            "there is no tempo before this one to change",
            where="tempo",
            fix='write the first tempo too, such as "80 to 120"',
        )
    start = float((before or 0.0) * tempo.ratio) if tempo.bpm is None else tempo.bpm
    if not MIN_TEMPO <= start <= MAX_TEMPO:
        raise BadInput(
            f"this makes a tempo of {start:g} BPM, not {MIN_TEMPO:g} to {MAX_TEMPO:g}",
            where="tempo",
            fix="choose other note values, or another tempo before",
        )
    return SectionTempo(start, tempo.to, tempo.over)


def tempo_changes(
    plan: Sequence[SectionTempo], parts: Sequence[tuple[Sequence[Bar], Sequence[TempoChange]]]
) -> tuple[TempoChange, ...]:
    """Return the changes of tempo of all sections.

    `plan` begins with the pattern's own tempo; `parts` are each section's bars, and the changes of
    a pattern that it takes in, in shares of the section's tempo.
    """
    found: list[TempoChange] = []
    tempo = plan[0].start
    for now, (bars, inside) in zip(plan[1:], parts, strict=True):
        end = None if now.to is None else bars[(now.over or len(bars)) - 1].end
        changes = [TempoChange(bars[0].start, now.start, end, now.to or 0.0)]
        changes += [
            replace(one, tempo=one.tempo * now.start, to=one.to * now.start) for one in inside
        ]
        for one in changes:
            if found and found[-1].start == one.start:
                found.pop()
            if one.end is not None or one.tempo != tempo:
                found.append(one)
            tempo = one.to or one.tempo
    return tuple(found)


def dynamics(
    parts: Sequence[WrittenDynamic], start: Fraction, length: Fraction
) -> Iterator[Dynamic]:
    """Yield a section's marks; its parts share a length from a start evenly."""
    each = length / max(1, len(parts))
    for at, one in enumerate(parts):
        begin = start + at * each
        yield Dynamic(begin, one.mark, begin + each if one.to else None, one.to)


def joined(found: Iterable[Swing]) -> tuple[Swing, ...]:
    """Return swing with equal neighbours joined into one."""
    kept: list[Swing] = []
    for one in found:
        if (
            kept
            and replace(kept[-1], start=one.start, end=one.end) == one
            and kept[-1].end == one.start
        ):
            kept[-1] = replace(kept[-1], end=one.end)
        else:
            kept.append(one)
    return tuple(kept)


def without_repeats(found: Iterable[Dynamic]) -> tuple[Dynamic, ...]:
    """Return marks without those that only say again what holds."""
    kept: list[Dynamic] = []
    for one in found:
        now = (kept[-1].to or kept[-1].mark) if kept else ""
        if one.end is not None or one.mark != now:
            kept.append(one)
    return tuple(kept)


def torn_strokes(swing: Swing, bars: Sequence[Bar], notes: Sequence[Note]) -> BadInput | None:
    """Return the fault of strokes written together that swing would pull apart, None for none.

    A tuplet is played as it is written, a plain stroke on the same beat would be moved.
    """
    pair = 2 * NOTE_VALUES[swing.value].length
    number = 0
    for beat, group in groupby(notes, key=beat_of):
        while beat >= bars[number].end:
            number += 1
        inside = beat - bars[number].start
        if not inside % pair or inside >= bars[number].meter.length // pair * pair:
            continue
        values = {note.voice: NOTE_VALUES[note.value].actual > 1 for note in group}
        if len(set(values.values())) == 2:
            voices = " and ".join(values)
            return BadInput(
                f"{voices} are written together in bar {number + 1}, but one is in a tuplet and "
                "swing moves the other",
                where="swing",
                fix='write both in the same note value, or swing = "none"',
            )
    return None
