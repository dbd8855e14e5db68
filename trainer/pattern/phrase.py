"""Phrases: a few bars taken out of a pattern, and patterns named one after the other.

`bars=3-4` and `section=2` after a pattern's name take a part of it, so that a hard spot can be
practised alone. A phrase such as `groove x3, fill bars=1` names what follows what; each name may
have changes of its own (`trainer.pattern.language.changes`). Bars and sections count from 1, as
people count them.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

from trainer.checked import shortened
from trainer.errors import BadInput
from trainer.pattern.as_played import loudness, played_places
from trainer.pattern.model import DYNAMICS, Dynamic, Swing, TempoChange, beat_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from fractions import Fraction

    from trainer.pattern.model import Pattern, Section

MOST_PARTS = 500
"""The most parts of a phrase, its repeats written out."""

_BARS_FIX = "write bars=3 or bars=3-4"
_PHRASE_FIX = 'write names with commas between them: "groove x3, fill"'


def excerpt(pattern: Pattern, bars: str | None = None, section: str | None = None) -> Pattern:
    """Return a part of a pattern: a section, or bars (of the section where both are written).

    Raises BadInput under `bars` or `section` for a part that there is not.
    """
    first, count = 0, len(pattern.bars)
    words = []
    if section is not None:
        found = _section(pattern, section)
        first, count = found.first_bar, found.bar_count
        words.append(found.title or f"section {section}")
    if bars is not None:
        begin, end = _bar_span(bars, count)
        first, count = first + begin, end - begin
        words.append(f"bars {begin + 1} to {end}" if count > 1 else f"bar {end}")
    return _cut(pattern, first, first + count, ", ".join(words))


def _section(pattern: Pattern, text: str) -> Section:
    """Return the section of a number or a title."""
    titles = {section.title: section for section in reversed(pattern.sections) if section.title}
    if text in titles:
        return titles[text]
    number = _number(text)
    if 1 <= number <= len(pattern.sections):
        return pattern.sections[number - 1]
    known = f"it has {len(pattern.sections)}" if pattern.sections else "it has none: take bars"
    raise BadInput(f'there is no section "{shortened(text)}"', where="section", fix=known)


def _bar_span(text: str, count: int) -> tuple[int, int]:
    """Return the first bar, from 0, and the one after the last of `3` or `3-4`."""
    first, dash, last = text.partition("-")
    begin = _number(first)
    end = _number(last) if dash else begin
    if not 1 <= begin <= end:
        raise BadInput(f'"{shortened(text)}" names no bars', where="bars", fix=_BARS_FIX)
    if end > count:
        what = f"there is no bar {end}"
        raise BadInput(what, where="bars", fix=f"the last one is bar {count}")
    return begin - 1, end


def _number(text: str) -> int:
    """Return a whole number of up to six digits, else 0."""
    text = text.strip()
    return int(text) if len(text) < 7 and text.isascii() and text.isdecimal() else 0


def _cut(pattern: Pattern, first: int, last: int, words: str) -> Pattern:
    """Return the bars from one up to another as a pattern of their own, at the tempo they have."""
    start, end = pattern.bars[first].start, pattern.bars[last - 1].end
    low = bisect_left(pattern.notes, start, key=beat_of)
    high = bisect_left(pattern.notes, end, key=beat_of)
    sections = tuple(_cut_sections(pattern.sections, first, last))
    whole = len(sections) == 1 and sections[0].times == 1
    return replace(
        pattern,
        title=f"{pattern.title}, {words}",
        level=None,
        bars=tuple(replace(bar, start=bar.start - start) for bar in pattern.bars[first:last]),
        notes=tuple(replace(one, beat=one.beat - start) for one in pattern.notes[low:high]),
        sections=() if whole else sections,
        tempo=_tempo_at(pattern, start),
        swing=tuple(_clipped(pattern.swing, start, end)),
        tempo_changes=tuple(_cut_tempo(pattern, start, end)),
        dynamics=tuple(_cut_dynamics(pattern, start, end)),
    )


def _cut_sections(sections: Sequence[Section], first: int, last: int) -> Iterator[Section]:
    for one in sections:
        begin = max(first, one.first_bar)
        end = min(last, one.first_bar + one.bar_count)
        if begin < end:
            whole = end - begin == one.bar_count
            yield replace(
                one,
                first_bar=begin - first,
                bar_count=end - begin,
                times=one.times if whole else 1,
            )


Stretch = TypeVar("Stretch", Swing, TempoChange, Dynamic)


def _clipped(found: Sequence[Stretch], start: Fraction, end: Fraction) -> Iterator[Stretch]:
    """Yield what begins or ends inside a span, cut to it and counted from its start."""
    for one in found:
        stop = one.end if one.end is None else min(one.end, end)
        if one.start < end and (one.start >= start if stop is None else stop > start):
            begin = max(one.start, start) - start
            yield replace(one, start=begin, end=None if stop is None else stop - start)


def _tempo_at(pattern: Pattern, beat: Fraction) -> float:
    """Return the tempo at a beat, in BPM of the pattern's unit."""
    pace = played_places(pattern).pace(beat)
    return pattern.tempo if pace == 1.0 else pattern.tempo / pace


def _cut_tempo(pattern: Pattern, start: Fraction, end: Fraction) -> Iterator[TempoChange]:
    """Yield the changes of a span; what of a gradual one is outside it has been or is to come."""
    for whole in pattern.tempo_changes:
        for one in _clipped([whole], start, end):
            if one.end is None:
                if one.start or one.tempo != _tempo_at(pattern, start):
                    yield one
                continue
            # Just before the end: there the tempo that is reached holds already.
            to = whole.to if whole.end == one.end + start else _tempo_at(pattern, one.end + start)
            yield replace(one, tempo=_tempo_at(pattern, one.start + start), to=to)


def _cut_dynamics(pattern: Pattern, start: Fraction, end: Fraction) -> Iterator[Dynamic]:
    """Yield the marks of a span; one inside a crescendo begins and ends at the nearest mark."""
    clipped = list(_clipped(pattern.dynamics, start, end))
    if not clipped or clipped[0].start:
        loud = loudness(pattern, start)
        if loud is not None:
            yield Dynamic(start - start, DYNAMICS[round(loud)])
    for one in clipped:
        if one.end is None:
            yield one
            continue
        marks = [loudness(pattern, place + start) or 0.0 for place in (one.start, one.end)]
        mark, to = (DYNAMICS[round(loud)] for loud in marks)
        if mark == to:
            yield Dynamic(one.start, mark)
        else:
            yield replace(one, mark=mark, to=to)


@dataclass(frozen=True, slots=True)
class PhrasePart:
    """A pattern by name, with any changes, and how often it is played."""

    name: str
    times: int = 1


def read_phrase(text: str) -> tuple[PhrasePart, ...]:
    """Return the parts of a phrase such as `groove x3, fill bars=1` or `|: a x3, b :| x2`.

    Raises BadInput for what is no phrase, or one of too many parts.
    """
    found: list[PhrasePart] = []
    group = -1
    for item in _items(text):
        words, closed = item, False
        if words.startswith("|:"):
            if group >= 0:
                raise BadInput("a |: is inside another", fix="write the inner one out")
            group, words = len(found), words[2:].strip()
        body, end, after = words.partition(":|")
        if end:
            words, closed = body.strip(), True
        found.append(_part(words))
        if closed:
            if group < 0:
                raise BadInput("a :| closes no |:", fix="write |: before it")
            again = _repeats(after.strip()) if after.strip() else 2
            _check_count(len(found[:group]) + len(found[group:]) * again)
            found[group:] = found[group:] * again
            group = -1
        _check_count(len(found))
    if group >= 0:
        raise BadInput("a |: is never closed", fix="write :| behind it")
    return tuple(found)


def _items(text: str) -> Iterator[str]:
    """Yield what is between commas, but not between those in quotes."""
    item, quoted = "", ""
    for sign in f"{text},":
        if sign == "," and not quoted:
            if not item.strip():
                raise BadInput("a part of the phrase is empty", fix=_PHRASE_FIX)
            yield item.strip()
            item = ""
            continue
        if sign in "\"'" and quoted in ("", sign):
            quoted = "" if quoted else sign
        item += sign
    if quoted:
        raise BadInput("the phrase has half a pair of quotes", fix=_PHRASE_FIX)


def _part(text: str) -> PhrasePart:
    name, _, last = text.rpartition(" ")
    if name and last[:1] in "x×" and last[1:].isdecimal():
        return PhrasePart(name.strip(), _repeats(last))
    if not text:
        raise BadInput("a part of the phrase is empty", fix=_PHRASE_FIX)
    return PhrasePart(text)


def _repeats(text: str) -> int:
    times = _number(text[1:]) if text[:1] in ("x", "×") else 0
    if not 1 <= times <= 10_000:
        raise BadInput(f'"{shortened(text)}" is no repeat', fix="write x2 to x10000")
    return times


def _check_count(count: int) -> None:
    if count > MOST_PARTS:
        raise BadInput(
            f"the phrase has {count} parts, more than {MOST_PARTS}", fix="repeat it fewer times"
        )
