"""Tab files: tab as drummers type it read as a pattern, and a pattern written as a tab file.

A row is a drum's letters, a bar line and one character for each step; a bar holds as many even
steps as it has characters, and its meter comes from a line like `bars 1-2, 7/8` or `meter: 7/8`
above; without one it goes by the steps, and `assumed` says so. Letters under the rows, each below
its step, are the sticking: R, L, B for both hands (b with the left one on the upper drum); without
any the hands are assumed. Above the first bar there may be `title = "..."`, `tempo = 90`
and their like, in TOML, or `title: ...` and `tempo: 90` as people write them. Note values are
those of the shortest grid, or what a line like `bar 3, values: kick 8; snare 16 x2 8` says. Lines
that begin with + or - name strokes to add or take out: what a grid of characters cannot show.

A written file has headings, the tab that `trainer patterns show` prints, and those extra lines, so
that reading it gives the same pattern.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput, named
from trainer.file_system import read_text
from trainer.kit.voices import ROW, VOICES
from trainer.pattern.formats import assumptions, tab
from trainer.pattern.formats.assumptions import playable_tempo
from trainer.pattern.formats.tab import ParsedTab, TabSystem, parse_tab
from trainer.pattern.json_data import (
    FeelRow,
    NoteRow,
    note_to_dict,
    pattern_from_dict,
    pattern_to_dict,
)
from trainer.pattern.language import spelling
from trainer.pattern.language.rows import HANDS_ASSUMED, WrittenStroke, with_limbs
from trainer.pattern.model import (
    FOOT_LIMB,
    MAX_BARS,
    MAX_STROKES,
    OLD_SIGNS,
    SIGNS,
    ZONE_SIGNS,
    Bar,
    Limb,
    Note,
    Pattern,
    Section,
    note_order,
)
from trainer.pattern.rhythm import written_values
from trainer.toml_text import parse, toml_text
from trainer.typed_json import converted

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence


MAX_BYTES = 8 * 2**20
MAX_STEPS = 20_000

_SECTION = re.compile(r"(\d{1,6})-(\d{1,6})(?: x(\d{1,5}))?(?: (.*))?", re.ASCII | re.DOTALL)


def read(source: Path | str, name: str = "") -> Pattern:
    """Read a tab file as a pattern called `name`, else as the file.

    Raises BadInput naming the file, the line and the fix.
    """
    path = Path(source)
    with named(path.name):
        return pattern_from_tab(read_text(path, MAX_BYTES), name or path.stem)


def pattern_from_tab(text: str, name: str) -> Pattern:
    """Return the pattern a tab's text says."""
    tab = parse_tab(text)
    if not tab.systems:
        raise BadInput(
            "no row of tab was found", fix='write rows such as "SN |o-o-o-o-|", a drum each'
        )
    bars, rows, sticking, assumed = _laid_out(tab)
    if not rows:
        raise BadInput("no stroke is written", fix='write them as "o" on the rows of tab')
    if not sticking and any(row.note.limb is None for row in rows):
        assumed.append(HANDS_ASSUMED)
    notes = with_limbs(rows, [], {} if sticking else None)
    notes = _valued(sorted(notes, key=note_order), bars, tab.values)
    notes = _changed(notes, tab.changes, bars[-1].end)
    pattern = Pattern(name, name, bars, tuple(sorted(notes, key=note_order)))
    return _headed(pattern, tab.headings, assumed)


def _laid_out(tab: ParsedTab) -> tuple[tuple[Bar, ...], list[WrittenStroke], bool, list[str]]:
    """Return bars, strokes, whether a sticking is written anywhere, and what was assumed."""
    assumed: dict[str, None] = {}
    bars: list[Bar] = []
    rows: list[WrittenStroke] = []
    reported = any(system.sticking for system in tab.systems)
    for system in tab.systems:
        _, _, shape, column = system.rows[0]
        for at, (_, _, cells, _) in enumerate(system.rows):
            if [len(one) for one in cells] != [len(one) for one in shape] or "" in cells:
                raise BadInput(
                    "the bars of this row are not as long as those of the first row",
                    where=f"line {system.line + at}",
                    fix="give every row of a system the same steps",
                )
        for index, example in enumerate(shape):
            start = bars[-1].end if bars else Fraction(0)
            bars.append(Bar(start, system.meter or assumptions.guessed_meter(len(example))))
            if system.meter is None:
                assumed[assumptions.guessed_meter_words(len(example))] = None
            if len(bars) > MAX_BARS or len(example) > MAX_STEPS:
                raise BadInput("the tab is longer than a pattern may be", fix="split it")
            letters = system.sticking[column : column + len(example)]
            rows += _bar(system, index, bars[-1], letters)
            column += len(example) + 1
    if len(rows) > MAX_STROKES:
        raise BadInput(f"the tab has more than {MAX_STROKES:,} strokes", fix="split it")
    return tuple(bars), rows, reported, list(assumed)


def _bar(system: TabSystem, index: int, bar: Bar, letters: str) -> list[WrittenStroke]:
    """Return the strokes of one bar with the hands that the letters below name."""
    size = len(system.rows[0][2][index])
    step = bar.meter.length / size
    found = []
    ordered = sorted(enumerate(system.rows), key=lambda row: ROW[row[1][0]])
    for place in range(size):
        struck = []
        for at, (voice, zone, cells, _) in ordered:
            mark = cells[index][place]
            if mark not in "-. ":
                one = _stroke(voice, zone, mark, system.line + at)
                beat = bar.start + place * step
                struck.append(replace(one, note=replace(one.note, beat=beat)))
        found += _with_hands(struck, letters[place : place + 1])
    return found


def _stroke(voice: str, zone: str, mark: str, line: int) -> WrittenStroke:
    sign = ZONE_SIGNS.get((voice, mark)) or SIGNS.get(mark)
    if sign is None:
        now = OLD_SIGNS.get((voice, mark))
        usual = f"use one of {' '.join(SIGNS)}, or - for a rest"
        raise BadInput(
            f'"{mark}" is no sign of tab',
            where=f"line {line}",
            fix=f"write {now} for a cross-stick" if now else usual,
        )
    hand = {"R": Limb.RH, "L": Limb.LH}.get(sign.hand)
    limb = hand or FOOT_LIMB.get(voice)
    zone = zone or sign.zone
    note = Note(Fraction(0), voice, limb, sign.level, zone, buzz=sign.buzz)
    return WrittenStroke(note, sign.graces)


def _with_hands(struck: list[WrittenStroke], letter: str) -> list[WrittenStroke]:
    """Give the strokes of one step, upper drum first, the hands of its letter."""
    hands = {"R": (Limb.RH,), "L": (Limb.LH,), "B": (Limb.RH, Limb.LH), "b": (Limb.LH, Limb.RH)}
    waiting = list(hands.get(letter, ()))
    found = []
    for one in struck:
        if one.note.limb is None and waiting:
            one = replace(one, note=replace(one.note, limb=waiting.pop(0)))
        found.append(one)
    free = [one for one in found if not VOICES[one.note.voice].foot]
    if waiting and len(free) == 1:
        found.append(replace(free[0], note=replace(free[0].note, limb=waiting[0]), graces=0))
    return found


def _valued(
    notes: Sequence[Note], bars: Sequence[Bar], reported: Sequence[tuple[int, int, str]]
) -> list[Note]:
    """Give notes the values of the shortest grid, or those written for a bar and a drum.

    Grace strokes have their main stroke's value.
    """
    inferred = written_values(notes, bars)
    values = {
        (note.beat, note.voice): inferred[VOICES[note.voice].foot, note.beat] for note in notes
    }
    places: dict[tuple[int, str], list[Fraction]] = {}
    for at, (beat, voice) in zip(_bar_numbers(values, bars), values, strict=True):
        places.setdefault((at, voice), []).append(beat)
    for line, bar, text in reported:
        for part in text.split(";"):
            voice, _, words = part.strip().partition(" ")
            beats = places.pop((bar, voice), [])
            names = _value_names(words, len(beats), f"line {line}")
            if not beats or len(names) != len(beats):
                raise BadInput(
                    f'the values "{part.strip()[:40]}" do not fit bar {bar}',
                    where=f"line {line}",
                    fix="name a drum of the bar and a note value for each of its strokes",
                )
            values |= {(beat, voice): name for beat, name in zip(beats, names, strict=True)}
    return [replace(note, value=values[note.beat, note.voice]) for note in notes]


def _bar_numbers(places: Iterable[tuple[Fraction, str]], bars: Sequence[Bar]) -> list[int]:
    """Return the number, from 1, of the bar each place (sorted by beat) is in."""
    starts = [bar.start for bar in bars]
    return [bisect_right(starts, beat) for beat, _ in places]


def _value_names(words: str, strokes: int, where: str) -> list[str]:
    """Return note values written like `16 x2 8`, one for each stroke; a single one is for all."""
    with named(where):
        names = [value.name for value in spelling.values(words)]
    return names * strokes if len(names) == 1 else names


def _changed(notes: list[Note], changes: Sequence[tuple[int, str]], end: Fraction) -> list[Note]:
    if not changes:
        return notes
    counted = Counter(notes)
    for line, change in changes:
        with named(f"line {line}"):
            note = note_from(change[2:])
        if note.beat >= end:
            raise BadInput("the stroke is after the last bar", where=f"line {line}")
        counted[note] += 1 if change[0] == "+" else -1
    return list(counted.elements())


def _said(row: Mapping[str, Any]) -> str:
    """Return a row of values in words that `_heard` reads."""
    return " ".join(f"{key}={word}" for key, word in row.items())


def _heard(text: str) -> dict[str, str]:
    """Return the row of values that words like `beat=7/4 voice=snare` say."""
    return dict(word.split("=", 1) for word in text.split() if "=" in word)


def note_from(text: str) -> Note:
    """Return the note that words like `beat=7/4 voice=snare limb=LH value=16` say."""
    words = _heard(text)
    if words.get("limb") == "none":
        del words["limb"]
    note = converted(words, NoteRow, strict=False).note()
    if note.zone not in ("", *VOICES[note.voice].zones):
        raise BadInput(f'the {note.voice} has no zone "{note.zone[:24]}"')
    return note


def _headed(pattern: Pattern, headings: Sequence[str], assumed: list[str]) -> Pattern:
    """Return the pattern with what its headings say; those that are not known say nothing."""
    try:
        table = parse("\n".join(headings))
    except BadInput as fault:
        raise BadInput(f"the headings are not TOML ({fault.what})", fix="fix them") from None
    for key in ("name", "bars", "notes"):
        table.pop(key, None)
    sections = table.pop("sections", None)
    if isinstance(sections, list):
        table["sections"] = [_section(str(text), len(pattern.bars)) for text in sections]
    if "tempo" not in table:
        table["tempo"], _, reported = playable_tempo(None)
        assumed = [*assumed, *reported]
    feel = converted(_feel(table), FeelRow, strict=False)
    said = {"title": pattern.name} | table | {"name": pattern.name}
    found = pattern_from_dict(said | {"bars": [bar.meter.written for bar in pattern.bars]})
    all_assumed = tuple(dict.fromkeys((*found.assumed, *assumed)))
    found = replace(found, bars=pattern.bars, notes=pattern.notes, assumed=all_assumed)
    return feel.over(found)


def _feel(table: dict[str, Any]) -> dict[str, Any]:
    """Take swing, tempo changes and dynamics out of the headings, as rows of values."""
    found = {key: table.pop(key) for key in FEEL if key in table}
    return {
        key: [_heard(str(text)) for text in texts] if isinstance(texts, list) else texts
        for key, texts in found.items()
    }


FEEL = ("swing", "tempo_changes", "dynamics")
"""Headings that are lists of words such as `start=0 end=16 value=8 share=2/3`."""


def _section(text: str, bars: int) -> dict[str, Any]:
    found = _SECTION.fullmatch(text)
    if not found or not 1 <= int(found[1]) <= int(found[2]) <= bars:
        raise BadInput(
            f'"{text[:40]}" is no section', where="sections", fix='write it like "1-4 x2 title"'
        )
    first, last, times = int(found[1]), int(found[2]), max(int(found[3] or 1), 1)
    title = found[4] or ""
    return {"title": title, "first_bar": first - 1, "bar_count": last - first + 1, "times": times}


def to_tab_file(pattern: Pattern) -> str:
    """Return the whole file."""
    grid = tab.to_tab(pattern)
    lines = [*_heading_lines(pattern), "", *grid, ""]
    lines += _value_lines(pattern, pattern_from_tab("\n".join(grid), pattern.name))
    read = pattern_from_tab("\n".join(lines), pattern.name)
    written, found = Counter(pattern.notes), Counter(read.notes)
    changes = [("-", note) for note in (found - written).elements()]
    changes += [("+", note) for note in (written - found).elements()]
    changes.sort(key=lambda change: (note_order(change[1]), change[0] == "+"))
    lines += [f"{sign} {_said(note_to_dict(note))}" for sign, note in changes]
    return "\n".join(lines).rstrip("\n") + "\n"


def _value_lines(pattern: Pattern, read: Pattern) -> list[str]:
    """Return a line for each bar with drums whose note values the grid does not show."""
    wanted, guessed = _by_bar(pattern), _by_bar(read)
    lines: dict[int, list[str]] = {}
    for (bar, voice), values in wanted.items():
        if values != guessed.get((bar, voice)):
            kinds = values[:1] if len(set(values)) == 1 else _joined(values)
            lines.setdefault(bar, []).append(" ".join([voice, *kinds]))
    return [f"bar {bar + 1}, values: {'; '.join(rows)}" for bar, rows in lines.items()]


def _by_bar(pattern: Pattern) -> dict[tuple[int, str], list[str]]:
    """Return the note values of each drum in each bar, one for each place it is struck."""
    found: dict[tuple[int, str], list[str]] = {}
    seen = set()
    starts = [bar.start for bar in pattern.bars]
    for note in pattern.notes:
        if not note.grace and (note.beat, note.voice) not in seen:
            seen.add((note.beat, note.voice))
            bar = bisect_right(starts, note.beat) - 1
            found.setdefault((bar, note.voice), []).append(note.value)
    return found


def _joined(values: list[str]) -> list[str]:
    runs = [(name, len(list(group))) for name, group in groupby(values)]
    return [name if count == 1 else f"{name} x{count}" for name, count in runs]


def _heading_lines(pattern: Pattern) -> list[str]:
    """Return in TOML what a pattern says beside bars and notes, where it says anything."""
    written = pattern_to_dict(replace(pattern, notes=()))
    plain = pattern_to_dict(Pattern(pattern.name, "", pattern.bars, ()))
    written["sections"] = [_section_text(section) for section in pattern.sections]
    written |= {key: [_said(row) for row in written[key]] for key in FEEL if key in written}
    kept = {
        key: value
        for key, value in written.items()
        if key in ("title", "tempo") or value != plain.get(key)
    }
    return toml_text(kept).splitlines()


def _section_text(section: Section) -> str:
    bars = f"{section.first_bar + 1}-{section.first_bar + section.bar_count}"
    times = f" x{section.times}" if section.times > 1 else ""
    return f"{bars}{times} {section.title}".rstrip()
