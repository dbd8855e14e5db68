"""What is assumed where a file of somebody else's is silent: tempo, meter, grid, hands.

Every assumption is returned in words, for `Pattern.assumed`.

The tempo is kept within what can be practised. Bar lines follow the changes of meter, for files
that only say where a meter begins. A bar of tab without a meter goes by its steps, as drummers
write them (common practice): steps that go into four quarters are a bar of 4/4; six, or an odd
number, are eighths; any other number is of sixteenths.

The strokes of a MIDI file are put on the shortest sensible grid; hands and feet have a grid of
their own. A stroke off the grid, less than a twentieth of a second before a louder one on the same
drum, is its grace stroke. Feet play the voices of the feet; a track named after a limb gives the
limb; the other hands are assumed (`trainer.pattern.language.rows`).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import CHOKE, VOICES
from trainer.pattern.formats.midi_file import DEFAULT_TEMPO_US, levels_of
from trainer.pattern.language.rows import HANDS_ASSUMED, WrittenStroke, with_limbs
from trainer.pattern.model import (
    FOOT_LIMB,
    MAX_BARS,
    MAX_TEMPO,
    MIN_TEMPO,
    Bar,
    Meter,
    Note,
    TempoChange,
)
from trainer.pattern.quantiser import UNIT, Onset, Placed, Spread, quantise, share_on_grid

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trainer.pattern.formats.midi_file import MidiFile, NoteOn
    from trainer.pattern.model import Limb


def playable_tempo(written: tuple[float, Fraction] | None) -> tuple[float, Fraction, list[str]]:
    """Return BPM, the note it counts (quarter notes), and what was assumed about them."""
    if written is None:
        return 60.0, Fraction(1), ["tempo: 60 BPM, as the file has none"]
    bpm, unit = written
    kept = min(max(bpm, MIN_TEMPO), MAX_TEMPO)
    if kept != bpm:
        return kept, unit, [f"tempo: {kept:g} BPM, as the file's {bpm:g} is out of range"]
    return bpm, unit, []


LEAST_CHANGE = 0.05
"""BPM by which a tempo has to change to be a change."""

MOST_CHANGES = 500
"""More tempos than this are those of somebody who played without a click."""


def playable_changes(
    tempos: Sequence[tuple[Fraction, float]], end: Fraction, tempo: float
) -> tuple[tuple[TempoChange, ...], list[str]]:
    """Return the changes of a tempo inside a file, from beat and BPM, and what was assumed."""
    inside = {
        beat: min(max(round(bpm, 3), MIN_TEMPO), MAX_TEMPO)
        for beat, bpm in tempos
        if 0 < beat < end
    }
    changes: list[TempoChange] = []
    for beat, bpm in inside.items():
        if abs(bpm - (changes[-1].tempo if changes else tempo)) >= LEAST_CHANGE:
            changes.append(TempoChange(beat, bpm))
    if len(changes) > MOST_CHANGES:
        return (), [f"tempo: the first of {len(changes) + 1}"]
    return tuple(changes), []


def lone_kick(voices: Iterable[str]) -> bool:
    """Return whether the second bass drum is the only one, so that it is the kick.

    General MIDI has two bass drums, 35 and 36, and many programs write 35 for a single one.
    """
    used = set(voices)
    return "kick2" in used and "kick" not in used


NOTES_LEFT_OUT = "left out: notes that the kit lacks, "
NAME_PADS = "name their pads under [notes] in the kit file"

LONE_KICK = "drums: the bass drum is the kick (General MIDI 35), as the file has no other"


_SHORT_UNITS = (1, 2, 4, 8, 16, 32, 64)

MeterChange = tuple[Fraction, Meter]
"""A beat in quarter notes and the meter from there on."""


def lay_bars(
    changes: list[MeterChange], last: Fraction, end: Fraction
) -> tuple[tuple[Bar, ...], list[str]]:
    """Return bars that hold a last beat, and what was assumed about them.

    They continue to `end` where that is a bar line (a loop that ends in rests). Without a change at
    the start the meter is 4/4. Raises BadInput for more bars than a pattern may have.
    """
    waiting = sorted(changes, key=lambda change: change[0], reverse=True)
    bars: list[Bar] = []
    reported: list[str] = []
    start, meter = Fraction(0), Meter()
    while True:
        while waiting and waiting[-1][0] <= start:
            meter = waiting.pop()[1]
        rests = start < end and (bool(waiting) or (end - start) % meter.length == 0)
        if start > last and not rests:
            return tuple(bars), reported
        if len(bars) >= MAX_BARS:
            raise BadInput(
                f"the file has more than {MAX_BARS:,} bars", fix="cut it into shorter files"
            )
        short = short_meter(waiting[-1][0] - start, meter) if waiting else None
        if short:
            reported.append(f"meter: bar {len(bars) + 1} is cut short by a change of meter")
        bars.append(Bar(start, short or meter))
        start = bars[-1].end


def short_meter(room: Fraction, meter: Meter) -> Meter | None:
    """Return the meter of a bar with less room than its meter asks; None where it has enough.

    None as well where no note value fills the room: the change then waits for the bar line.
    """
    if not 0 < room < meter.length:
        return None
    for unit in _SHORT_UNITS:
        beats = room * unit / 4
        if unit >= meter.unit and beats.denominator == 1:
            return Meter(int(beats), unit)
    return None


MOST_BEATS = 64

_STEP_KINDS = {
    1: "whole notes", 2: "halves", 4: "quarters", 8: "eighths", 12: "eighth triplets",
    16: "sixteenths", 20: "sixteenth quintuplets", 24: "sixteenth triplets",
    28: "sixteenth septuplets", 32: "32nds",
}  # fmt: skip
"""What the steps of a bar of 4/4 are, by their number."""

_OTHER_METERS = {
    6: 'write "meter: 3/4" above for eighths in 3/4',
    12: 'write "meter: 3/4" above for sixteenths in 3/4, "meter: 12/8" for eighths',
}
"""Numbers of steps that might as well mean another meter, and how to say so."""


def guessed_meter(steps: int) -> Meter:
    """Return the meter of a bar of so many steps."""
    if steps % 4 == 0 or steps in _STEP_KINDS:
        return Meter()
    eighths = steps if _are_eighths(steps) else steps // 2
    return Meter(eighths, 8) if eighths <= MOST_BEATS else Meter()


def guessed_meter_words(steps: int) -> str:
    """Return what was assumed of a bar of so many steps."""
    meter = guessed_meter(steps)
    if meter.unit == 8:
        kind = "eighths" if _are_eighths(steps) else "sixteenths"
    else:
        kind = _STEP_KINDS.get(steps, "even steps")
    hint = f"; {_OTHER_METERS[steps]}" if steps in _OTHER_METERS else ""
    return f"meter: {meter}, as none is written and a bar has {steps} steps ({kind}{hint})"


def _are_eighths(steps: int) -> bool:
    return steps % 2 == 1 or steps == 6


USUAL_S, LARGEST_S = 0.012, 0.040
"""How far played strokes are beside the grid, in seconds (common practice, no source)."""

GRACE_WINDOW_S = 0.050
MOST_GRACES = 3

MOSTLY = 0.8
"""A file with this share of its strokes on a grid was written on one."""


@dataclass(slots=True)
class MidiStroke:
    """A note-on with its drum and its track's limb, and whether that hand was assumed.

    `main` is the stroke it is a grace of.
    """

    on: NoteOn
    voice: str
    zone: str
    limb: Limb | None
    assumed: bool = False
    main: MidiStroke | None = None


def infer_notes(
    file: MidiFile, strokes: Sequence[MidiStroke], bars: Sequence[Bar]
) -> tuple[list[Note], list[str]]:
    """Return the notes (strokes are sorted by tick) and, in words, what was assumed."""
    _find_graces(file, strokes)
    mains = [stroke for stroke in strokes if stroke.main is None]
    graces = Counter(id(stroke.main) for stroke in strokes)
    placed = _placed(file, mains, bars)
    levels = levels_of([stroke.on.velocity for stroke in mains])
    rows: dict[tuple[Fraction, str, str], WrittenStroke] = {}
    for stroke, level in zip(mains, levels, strict=True):
        spot = placed[id(stroke)]
        limb = FOOT_LIMB.get(stroke.voice) or stroke.limb
        note = Note(
            spot.beat,
            stroke.voice,
            limb,
            level,
            stroke.zone,
            spot.value,
            hand_assumed=stroke.assumed,
        )
        rows.setdefault(
            (spot.beat, stroke.voice, stroke.zone), WrittenStroke(note, graces[id(stroke)])
        )
    reported = []
    if len(rows) < len(mains):
        lost = len(mains) - len(rows)
        reported.append(f"left out: {lost} strokes that fell on another of the same drum")
    if any(row.note.written_limb is None for row in rows.values()):
        reported.append(HANDS_ASSUMED)
    return with_limbs(list(rows.values()), [], None), reported


def bar_line_slack(file: MidiFile) -> Fraction:
    """Return how far before a bar line a stroke still belongs to it, in quarter notes."""
    return Fraction(_spreads(file)[0].largest) / UNIT


def _spreads(file: MidiFile) -> tuple[Spread, ...]:
    """Return the spreads to believe: ticks in a file written on a grid, else milliseconds."""
    tick = float(UNIT / file.ticks_per_quarter)
    # A tick of rounding, or half of one where ticks are coarse.
    rounding = max(0.55 * tick, min(1.05 * tick, UNIT / 240))
    quarter = _quarter_s(file)
    largest = min(LARGEST_S / quarter, 0.125) * UNIT
    played = Spread(max(USUAL_S / quarter * UNIT, tick), max(largest, rounding), played=True)
    onsets = [Onset(at, "") for at in _places(file, file.notes)]
    if share_on_grid(onsets, rounding) < MOSTLY:
        return (played,)
    return Spread(rounding, rounding), played


def _quarter_s(file: MidiFile) -> float:
    if file.ticks_per_second:
        return float(file.ticks_per_quarter / file.ticks_per_second)
    return (file.tempos[0][1] if file.tempos else DEFAULT_TEMPO_US) / 1e6


def _places(file: MidiFile, notes: Iterable[NoteOn]) -> list[int]:
    """Return the places of notes, `UNIT` to a quarter note, each rounded to the nearest."""
    units, ticks = (UNIT / file.ticks_per_quarter).as_integer_ratio()
    return [(2 * on.tick * units + ticks) // (2 * ticks) for on in notes]


def _placed(file: MidiFile, mains: Sequence[MidiStroke], bars: Sequence[Bar]) -> dict[int, Placed]:
    """Return where each stroke belongs, by its identity."""
    spreads = _spreads(file)
    found: dict[int, Placed] = {}
    for foot in (False, True):
        group = [stroke for stroke in mains if VOICES[stroke.voice].foot is foot]
        places = _places(file, [stroke.on for stroke in group])
        onsets = [
            Onset(at, f"{stroke.voice}:{stroke.zone}")
            for at, stroke in zip(places, group, strict=True)
        ]
        rows = quantise(onsets, bars, spreads)
        found |= {id(stroke): row for stroke, row in zip(group, rows, strict=True)}
    return found


def _find_graces(file: MidiFile, strokes: Sequence[MidiStroke]) -> None:
    """Join each grace stroke to its main stroke, from the last stroke backwards."""
    clock = file.tempo_map()
    after: dict[str, tuple[float, MidiStroke, int]] = {}
    for stroke in reversed([one for one in strokes if one.zone != CHOKE]):
        now = clock.seconds(stroke.on.tick)
        then, main, count = after.get(stroke.voice, (now, stroke, 0))
        near = 0 < then - now <= GRACE_WINDOW_S and count < MOST_GRACES
        softer = stroke.on.velocity < main.on.velocity
        if near and softer and not VOICES[stroke.voice].foot and not _on_grid(file, stroke):
            stroke.main = main
        after[stroke.voice] = (now, stroke.main or stroke, count + 1 if stroke.main else 0)


def _on_grid(file: MidiFile, stroke: MidiStroke) -> bool:
    tick = float(UNIT / file.ticks_per_quarter)
    onsets = [Onset(at, "") for at in _places(file, [stroke.on])]
    return share_on_grid(onsets, tick / 2) == 1.0
