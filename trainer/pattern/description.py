"""A pattern in words: what it holds, what it demands of the body, what a file lost of it.

Counted are strokes by limb and drum, and moves: a move is a step of one hand from one drum to
another, within one pass. Warnings never forbid anything: places of drums are those of an ordinary
right-handed kit, and each warning gives its bound (common practice, no source). Losses compare a
pattern with what its exported file reads back as.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import ROW, VOICES, drum_distance, full_zone, place_text
from trainer.pattern.model import HANDS, LIMB_NAMES, NOTE_VALUES, Limb, bar_of, beat_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator
    from fractions import Fraction

    from trainer.pattern.model import Note, Pattern, Section


FAR_M = 0.5
"""Drums further apart than this, in metres, are far."""

FAST_S = 0.12
"""A hand that has less time than this to reach a far drum is too fast, in seconds."""


_PLURAL = {1: "whole notes", 2: "halves", 4: "quarters", 32: "32nds"}
_TUPLET_ENDING = {
    "t": " triplets",
    "t.": " dotted triplets",
    "q": " quintuplets",
    "s": " septuplets",
}
_SINGULAR = {1: "whole note", 2: "half", 4: "quarter", 32: "32nd"}


def value_words(value: str) -> str:
    """Return how a note value is spoken of: `16` is "16ths", `8t` "8th triplets"."""
    base = NOTE_VALUES[value].base
    kind = value.removeprefix(str(base))
    if kind.startswith("("):
        return f"{_PLURAL.get(base, f'{base}ths')} in {kind[1:-1].replace('/', ' to ')}"
    if kind in _TUPLET_ENDING:
        return _SINGULAR.get(base, f"{base}th") + _TUPLET_ENDING[kind]
    return ("dotted " if kind == "." else "") + _PLURAL.get(base, f"{base}ths")


def voice_words(voice: str) -> str:
    """Return how a voice is spoken of; a name that is no voice is returned as it is."""
    return VOICES[voice].title if voice in VOICES else voice


def limb_words(limb: str) -> str:
    """Return how a limb is spoken of: `RH` is "right hand", an unsaid one "hands"."""
    return LIMB_NAMES.get(limb, "hands")


@dataclass(frozen=True, slots=True)
class Demand:
    """What a pattern demands. Main strokes are counted; grace strokes are counted apart.

    `limbs` has None for strokes nobody was named for; `moves` counts (limb, from, to) by how often.
    `warnings` are sentences, each kind once with its first place and how often it comes.
    """

    limbs: dict[Limb | None, int]
    voices: dict[str, int]
    graces: int
    moves: dict[tuple[Limb, str, str], int]
    warnings: tuple[str, ...]


@dataclass(slots=True)
class _Warnings:
    """Warnings by their words, with the first place and the number of each."""

    pattern: Pattern
    first: dict[str, Fraction] = field(default_factory=dict)
    count: Counter[str] = field(default_factory=Counter)

    def add(self, words: str, beat: Fraction) -> None:
        self.first.setdefault(words, beat)
        self.count[words] += 1

    def reported(self) -> tuple[str, ...]:
        return tuple(
            f"{words} ({place_words(self.pattern, beat)}{_often(self.count[words])})"
            for words, beat in self.first.items()
        )


def demand(pattern: Pattern, tempo: float | None = None) -> Demand:
    """Return what the pattern demands at a tempo (BPM; its own unless given)."""
    mains = [note for note in pattern.notes if not note.grace]
    quarter = 60.0 / ((tempo or pattern.tempo) * float(pattern.tempo_unit))
    voices = Counter(note.voice for note in mains)
    limbs = Counter(note.written_limb for note in mains)
    warnings = _Warnings(pattern)
    for beat, notes in groupby(mains, key=beat_of):
        _together(list(notes), beat, warnings)
    moves = Counter[tuple[Limb, str, str]]()
    for one, two in _steps(mains):
        assert two.limb
        moves[two.limb, one.voice, two.voice] += 1
        _too_far(one, two, quarter, warnings)
    return Demand(
        limbs={limb: limbs[limb] for limb in (*Limb, None) if limbs[limb]},
        voices={voice: voices[voice] for voice in sorted(voices, key=ROW.__getitem__)},
        graces=len(pattern.notes) - len(mains),
        moves=dict(sorted(moves.items(), key=lambda move: -move[1])),
        warnings=warnings.reported(),
    )


def place_words(pattern: Pattern, beat: Fraction) -> str:
    """Return a beat in words, bars and written beats counted from 1: `bar 2, beat 3 1/2`."""
    number = bar_of(pattern, beat)
    bar = pattern.bars[number]
    whole, rest = divmod((beat - bar.start) / bar.meter.beat, 1)
    return f"bar {number + 1}, beat {whole + 1}{f' {rest}' if rest else ''}"


def _together(notes: list[Note], beat: Fraction, warnings: _Warnings) -> None:
    """Warn of strokes at one beat that two hands and two feet cannot share."""
    by_hand = [note for note in notes if not VOICES[note.voice].foot]
    if len(by_hand) > 2:
        drums = ", ".join(note.voice for note in by_hand)
        warnings.add(f"{len(by_hand)} strokes of the hands at once: {drums}", beat)
        return
    for limb in Limb:
        own = [note.voice for note in notes if note.written_limb == limb]
        if len(own) > 1:
            warnings.add(f"the {LIMB_NAMES[limb]} strikes {' and '.join(own)} at once", beat)
    if len(by_hand) == 2 and by_hand[0].voice == by_hand[1].voice:
        warnings.add(f"both hands on the {by_hand[0].voice}: a pad may send one hit for two", beat)


def _steps(mains: Iterable[Note]) -> Iterator[tuple[Note, Note]]:
    """Yield each hand's pairs of strokes that follow one another on different voices."""
    last: dict[Limb, Note] = {}
    for note in mains:
        if (limb := note.written_limb) in HANDS:
            before = last.get(limb)
            if before and before.voice != note.voice and before.beat != note.beat:
                yield before, note
            last[limb] = note


def _too_far(one: Note, two: Note, quarter: float, warnings: _Warnings) -> None:
    gap_s = float(two.beat - one.beat) * quarter
    far = drum_distance(one.voice, two.voice)
    if far >= FAR_M and gap_s < FAST_S and two.limb:
        warnings.add(
            f"the {LIMB_NAMES[two.limb]} has {1000 * gap_s:.0f} ms "
            f"from {one.voice} to {two.voice}, some {far:.1f} m; "
            f"under {1000 * FAST_S:.0f} ms is too fast for most",
            two.beat,
        )


def _often(count: int) -> str:
    return f", {count} times" if count > 1 else ""


def description_lines(
    pattern: Pattern, *, brief: bool = False, without: Collection[str] = ()
) -> Iterator[str]:
    """Yield the lines above the tab: title, sections, counts, moves, what was assumed.

    In brief, sections and moves are left out. `without` are the drums that the kit lacks.
    """
    # Loaded only here: whoever judges needs words of this file and no levels.
    from trainer.pattern.level import computed_level

    yield pattern.title
    if pattern.about:
        yield pattern.about
    tags = f", {', '.join(pattern.tags)}" if pattern.tags else ""
    yield (
        f"{_meter_words(pattern)}, {size_words(pattern)}, "
        f"{pattern.tempo:g} BPM{_tempo_unit_words(pattern)}, {_level_words(pattern)}{tags}"
    )
    yield from _feel_lines(pattern)
    if pattern.left_handed:
        yield "on your left-handed kit: hands and feet are exchanged, drums stay"
    if pattern.sections and not brief:
        yield f"sections: {'; '.join(map(_section_words, pattern.sections))}"
    yield from _count_lines(demand(pattern), moves=not brief)
    grounds = [f"{name} {points:.1f}" for name, points in computed_level(pattern).grounds]
    harder = [words for words in grounds if not words.endswith(" 0.0")]
    if harder and not brief:
        yield f"harder by: {', '.join(harder)}"
    if not brief:
        yield from _smaller_kit_lines(pattern, without)
    for assumed in pattern.assumed:
        yield f"assumed: {assumed}"


def _smaller_kit_lines(pattern: Pattern, without: Collection[str]) -> Iterator[str]:
    """Yield what is played elsewhere on the player's kit, or on four pieces where it lacks none."""
    from trainer.pattern.smaller_kit import on_four_pieces, on_smaller_kit

    try:
        fewer = on_smaller_kit(pattern, without)[1] if without else on_four_pieces(pattern)
    except BadInput as fault:
        yield str(fault)
        return
    if fewer:
        kit = "your kit" if without else "a four-piece kit"
        yield f"on {kit}: {', '.join(f'{a} on {b}' for a, b in fewer.items())}"


def size_words(pattern: Pattern) -> str:
    """Return how long a pattern is: "1 bar, 16 strokes"."""
    bars, strokes = len(pattern.bars), pattern.strokes
    return f"{bars} bar{'s' * (bars != 1)}, {strokes} stroke{'s' * (strokes != 1)}"


def _meter_words(pattern: Pattern) -> str:
    return ", ".join(dict.fromkeys(bar.meter.written for bar in pattern.bars))


def _tempo_unit_words(pattern: Pattern) -> str:
    """Return the note value BPM counts, where it is not the quarter."""
    names = (name for name, value in NOTE_VALUES.items() if value.length == pattern.tempo_unit)
    return "" if pattern.tempo_unit == 1 else f" in {next(names, pattern.tempo_unit)}"


def _section_words(section: Section) -> str:
    first, last = section.first_bar + 1, section.first_bar + section.bar_count
    bars = f"bar {first}" if first == last else f"bars {first} to {last}"
    times = f", {section.times} times" if section.times > 1 else ""
    return f"{section.title or 'untitled'} ({bars}{times})"


def _feel_lines(pattern: Pattern) -> Iterator[str]:
    """Yield swing, tempo changes and dynamics, a line each where they are written."""
    parts = {
        "swing": [*_swing_words(pattern)],
        "tempo": [
            (f"{one.tempo:g}" if one.end is None else f"{one.tempo:g} to {one.to:g}")
            + f" BPM from {_bar_words(pattern, one.start)}"
            + ("" if one.end is None else f" until {_bar_words(pattern, one.end)}")
            for one in pattern.tempo_changes
        ],
        "dynamics": [
            (one.mark if one.end is None else f"{one.mark} to {one.to}")
            + f" from {_bar_words(pattern, one.start)}"
            for one in pattern.dynamics
        ],
    }
    for name, words in parts.items():
        if words:
            more = len(words) - MOST_STRETCHES
            rest = f", and {more} more" if more > 0 else ""
            yield f"{name}: {', '.join(words[:MOST_STRETCHES])}{rest}"


MOST_STRETCHES = 6
"""How many stretches of swing, tempo or dynamics are listed."""


def _swing_words(pattern: Pattern) -> Iterator[str]:
    """Yield each swing, and where it is straight again before the end."""
    starts = {one.start for one in pattern.swing}
    for one in pattern.swing:
        yield f"{one.value} {_ratio_words(one.share)} from {_bar_words(pattern, one.start)}"
        if one.end < pattern.length and one.end not in starts:
            yield f"straight from {_bar_words(pattern, one.end)}"


def _ratio_words(share: Fraction) -> str:
    """Return a share of swing as a ratio to one, else in percent."""
    rest = share.denominator - share.numerator
    return f"{share.numerator}:{rest}" if rest == 1 else f"{float(100 * share):.4g}%"


def _bar_words(pattern: Pattern, beat: Fraction) -> str:
    """Return a place in words: a bar's number on its first beat, and the end as such."""
    if beat >= pattern.length:
        return "the end"
    bar = bar_of(pattern, beat)
    return f"bar {bar + 1}" if pattern.bars[bar].start == beat else place_words(pattern, beat)


def _level_words(pattern: Pattern) -> str:
    """Return the level in words: the one that is written, else the one that is computed."""
    from trainer.pattern.level import computed_level

    if pattern.level is not None:
        return f"level {pattern.level}"
    return f"level {computed_level(pattern).level} (computed)"


def _count_lines(asked: Demand, *, moves: bool) -> Iterator[str]:
    limbs = (f"{LIMB_NAMES[limb] if limb else 'hands'} {n}" for limb, n in asked.limbs.items())
    graces = f", grace strokes {asked.graces}" if asked.graces else ""
    yield f"strokes: {', '.join(limbs)}{graces}"
    yield f"drums: {', '.join(f'{voice} {n}' for voice, n in asked.voices.items())}"
    if moves and asked.moves:
        reported = (f"{limb} {one} to {two} {n}" for (limb, one, two), n in asked.moves.items())
        yield f"moves: {', '.join(reported)}"
    for warning in asked.warnings:
        yield f"warning: {warning}"


_HEADING_WORDS = {
    "title": "the title as it is written",
    "about": "what it is about",
    "tags": "its tags",
    "level": "its level",
    "tempo_unit": "the note the tempo counts",
    "bars": "its meters",
    "sections": "its sections",
    "assumed": "the notes on what was filled in for it",
    "swing": "its swing",
    "tempo_changes": "its changes of tempo",
    "dynamics": "its dynamics",
}
"""What a pattern says beyond its notes."""

TEMPO_ROUNDING = 0.01
"""BPM by which a tempo may be rounded without a word."""

_NOTE_WORDS = {
    "level": "the loudness",
    "value": "the note value",
    "limb": "the hand or foot",
    "buzz": "the buzz",
}


def losses(pattern: Pattern, back: Pattern) -> list[str]:
    """Return in words, one for each kind, what `back` has lost; empty where nothing is."""
    return [*_lost_notes(pattern, back), *_lost_headings(pattern, back)]


def _lost_headings(pattern: Pattern, back: Pattern) -> Iterator[str]:
    if abs(pattern.tempo - back.tempo) > TEMPO_ROUNDING:
        yield f"the tempo of {pattern.tempo:g} BPM"
    for name, words in _HEADING_WORDS.items():
        if getattr(pattern, name) != getattr(back, name):
            yield words


def _lost_notes(pattern: Pattern, back: Pattern) -> Iterator[str]:
    """Yield zones by name, then what else of how many strokes."""
    written, found = Counter(pattern.notes), Counter(back.notes)
    left: dict[tuple[Fraction, str, int], list[Note]] = {}
    for note in (found - written).elements():
        left.setdefault(_note_place(note), []).append(note)
    zones: Counter[tuple[str, str, str]] = Counter()
    kinds: Counter[str] = Counter()
    for note in (written - found).elements():
        others = left.get(_note_place(note))
        if not others:
            kinds["stroke"] += 1
            continue
        other = others.pop(0)
        if note.zone != other.zone:
            zones[note.voice, note.zone, other.zone] += 1
        kinds.update(name for name in _NOTE_WORDS if getattr(note, name) != getattr(other, name))
    for (voice, zone, plain), count in zones.items():
        place = place_text(voice, full_zone(voice, zone))
        instead = VOICES[voice].title + (f", {plain}" if plain else "")
        yield f"{place} ({_stroke_count(count)}, written as {'' if plain else 'plain '}{instead})"
    for name, words in _NOTE_WORDS.items():
        if kinds[name]:
            yield f"{words} of {_stroke_count(kinds[name])}"
    if kinds["stroke"]:
        yield _stroke_count(kinds["stroke"])


def _note_place(note: Note) -> tuple[Fraction, str, int]:
    return note.beat, note.voice, note.grace


def _stroke_count(count: int) -> str:
    return f"{count} stroke{'' if count == 1 else 's'}"
