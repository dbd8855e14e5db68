"""What a MIDI file of somebody else's means: grid, levels, grace strokes and hands.

Strokes are put on the shortest sensible grid; hands and feet have a grid of their own. A stroke
that stands off the grid, less than a twentieth of a second before a louder one on the same drum, is
its grace stroke. Feet play the voices of the feet; a track named after a limb gives the limb; the
other hands strictly alternate, and the list of what was assumed says so.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.pattern.grid import UNIT, Onset, Placed, Spread, place, share_on_grid
from trainer.pattern.levels import levels_of
from trainer.pattern.midi_file import DEFAULT_TEMPO_US
from trainer.pattern.model import Note
from trainer.pattern.rows import Written, with_limbs
from trainer.pattern.tables import FOOT_LIMB

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trainer.pattern.midi_file import MidiFile, NoteOn
    from trainer.pattern.model import Bar
    from trainer.pattern.tables import Limb

USUAL_S, LARGEST_S = 0.012, 0.040
"""How far played strokes stand beside the grid, in seconds (common practice, no source)."""

GRACE_WINDOW_S = 0.050
MOST_GRACES = 3

MOSTLY = 0.8
"""A file with this share of its strokes on a grid was written on one."""

ALTERNATE = "sticking: hands strictly alternate"


@dataclass(slots=True)
class Stroke:
    """A note-on with its drum and its track's limb; `main` is the stroke it is a grace of."""

    on: NoteOn
    voice: str
    zone: str
    limb: Limb | None
    main: Stroke | None = None


def infer(
    file: MidiFile, strokes: Sequence[Stroke], bars: Sequence[Bar]
) -> tuple[list[Note], list[str]]:
    """Return the notes (strokes are sorted by tick) and, in words, what was assumed."""
    _find_graces(file, strokes)
    mains = [stroke for stroke in strokes if stroke.main is None]
    graces = Counter(id(stroke.main) for stroke in strokes)
    placed = _placed(file, mains, bars)
    levels = levels_of([stroke.on.velocity for stroke in mains])
    rows: dict[tuple[Fraction, str, str], Written] = {}
    for stroke, level in zip(mains, levels, strict=True):
        spot = placed[id(stroke)]
        limb = FOOT_LIMB.get(stroke.voice) or stroke.limb
        note = Note(spot.beat, stroke.voice, limb, level, stroke.zone, spot.value)
        rows.setdefault((spot.beat, stroke.voice, stroke.zone), Written(note, graces[id(stroke)]))
    told = []
    if len(rows) < len(mains):
        lost = len(mains) - len(rows)
        told.append(f"left out: {lost} strokes that fell on another of the same drum")
    if any(row.note.limb is None for row in rows.values()):
        told.append(ALTERNATE)
    return with_limbs(list(rows.values()), [], None), told


def slack(file: MidiFile) -> Fraction:
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


def _placed(file: MidiFile, mains: Sequence[Stroke], bars: Sequence[Bar]) -> dict[int, Placed]:
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
        rows = place(onsets, bars, spreads)
        found |= {id(stroke): row for stroke, row in zip(group, rows, strict=True)}
    return found


def _find_graces(file: MidiFile, strokes: Sequence[Stroke]) -> None:
    """Join each grace stroke to its main stroke, from the last stroke backwards."""
    clock = file.tempo_map()
    after: dict[str, tuple[float, Stroke, int]] = {}
    for stroke in reversed(strokes):
        now = clock.seconds(stroke.on.tick)
        then, main, count = after.get(stroke.voice, (now, stroke, 0))
        near = 0 < then - now <= GRACE_WINDOW_S and count < MOST_GRACES
        softer = stroke.on.velocity < main.on.velocity
        if near and softer and not VOICES[stroke.voice].foot and not _on_grid(file, stroke):
            stroke.main = main
        after[stroke.voice] = (now, stroke.main or stroke, count + 1 if stroke.main else 0)


def _on_grid(file: MidiFile, stroke: Stroke) -> bool:
    tick = float(UNIT / file.ticks_per_quarter)
    onsets = [Onset(at, "") for at in _places(file, [stroke.on])]
    return share_on_grid(onsets, tick / 2) == 1.0
