"""Takes like those people record on electronic kits, as files, with what each stroke was for.

Written against files and the command line alone: nothing of the program is imported, so that it is
not judged by a player that shares its ideas. A folder of takes holds for each NAME

- `NAME.mid`: the take, one tempo, strokes on channel 10;
- `NAME.pattern.mid`: what is written, quantised, without hands;
- `NAME.truth.csv`: a line a stroke in the order of the take: the beat it was meant for (quarter
  notes from the first beat of the music, as a fraction), and the General MIDI note; both empty for
  a stroke that nothing was meant by. The first line has `start_s` and the tempo in BPM.

The shares and times of a player are round figures of what modules and drummers do (common practice,
no source): strokes are 8 to 14 ms wide and wander slowly, a module sends a faint head note 2 to
4 ms before some rims and cross-sticks, a grace stroke leads by 25 to 45 ms.

    python tests/human_takes.py FOLDER [SEED]
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import mido
import numpy as np
from grooves import (
    CLOSED,
    CROSS,
    EDGE,
    FILLS,
    GHOST,
    GROOVES,
    RIM,
    SNARE,
    Due,
    bar,
    sentence,
)

if TYPE_CHECKING:
    from collections.abc import Callable

TICKS, FINE_TICKS = 480, 9600
"""Ticks a quarter of what is written, and of what is played."""

GRACES_TOO = 2


@dataclass(frozen=True)
class Human:
    """How somebody plays. Seconds; shares of strokes; `settle_s` is the lateness at the start."""

    jitter_s: float = 0.010
    wander_s: float = 0.012
    wander_over_s: float = 6.0
    settle_s: float = 0.0
    miss: float = 0.004
    faint: float = 0.6
    alien: float = 0.0
    drift: float = 0.0


@dataclass(frozen=True)
class HumanTake:
    """What is written, how long one pass is, what was played, and what each stroke was meant for.

    `played` has (second, note, velocity, the written stroke's beat in the music or None, its note).
    """

    written: tuple[Due, ...]
    beats: int
    tempo: float
    start_s: float
    played: tuple[tuple[float, int, int, Fraction | None, int], ...]


def _wandering(rng: np.random.Generator, seconds: float, size: float, over_s: float) -> np.ndarray:
    """Return a slow wander every 50 ms: two processes with memory, one four times as slow."""
    steps = int(seconds / 0.05) + 40
    total = np.zeros(steps)
    for memory_s, share in ((over_s, 0.8), (4 * over_s, 0.6)):
        keep, at = np.exp(-0.05 / memory_s), 0.0
        for place, noise in enumerate(rng.normal(0, np.sqrt(1 - keep**2), steps)):
            at = keep * at + noise
            total[place] += share * at
    return size * total


def perform(
    rng: np.random.Generator,
    meant: list[tuple[Fraction, Due, int]],
    tempo: float,
    start_s: float,
    human: Human,
) -> tuple[tuple[float, int, int, Fraction | None, int], ...]:
    """Return the strokes of a player: `meant` has beat in the music, stroke, and what is written.

    That is 0 for nothing (a fill of the player's own: it is meant for nothing), 1 for the stroke,
    GRACES_TOO for its grace strokes as well.
    """
    quarter = 60.0 / tempo
    last_s = start_s + float(max(beat for beat, *_ in meant)) * quarter
    wander = _wandering(rng, last_s, human.wander_s, human.wander_over_s)
    habit = {one.note: rng.normal(0, 0.004) for _, one, _ in meant}
    made: list[tuple[float, int, int, Fraction | None, int]] = []
    for beat, one, written in meant:
        if rng.random() < human.miss:
            continue
        due_s = start_s + float(beat) * quarter
        late = human.settle_s * np.exp(-float(beat) / 3.0) + habit[one.note]
        late += np.interp(due_s, np.arange(len(wander)) * 0.05, wander)
        late += human.drift * max(0.0, due_s - start_s) + rng.normal(0, human.jitter_s)
        at, loud = due_s + late, float(np.clip(rng.normal(one.loud, 8), 12, 127))
        truth, note = (beat if written else None), one.note
        for place in range(one.graces, 0, -1):
            lead = rng.uniform(0.025, 0.045) if one.graces == 1 else 0.06 * place / 2
            soft = float(np.clip(rng.normal(45, 9), 14, 90))
            led = truth if written == GRACES_TOO else None
            made.append((at - lead - rng.uniform(0, 0.004), note, int(soft), led, note))
        sent = note
        if human.alien and note == CLOSED and rng.random() < human.alien:
            sent = EDGE
        if note in (CROSS, RIM) and rng.random() < human.faint:
            made.append((at - rng.uniform(0.002, 0.004), SNARE, int(rng.integers(5, 12)), None, 0))
        made.append((at, sent, int(loud), truth, note))
    return tuple(sorted((row for row in made if row[0] >= 0), key=lambda row: row[0]))


def _whole(written: list[Due]) -> list[tuple[Fraction, Due, int]]:
    return [(one.beat, one, GRACES_TOO) for one in written]


def _instead(written: list[Due], others: list[Due]) -> list[tuple[Fraction, Due, int]]:
    """Return strokes played instead of written ones; some are where a written one is."""
    due = {(one.beat, one.note) for one in written}
    return [(one.beat, one, int((one.beat, one.note) in due)) for one in others]


def _take(
    rng: np.random.Generator,
    written: list[Due],
    beats: int,
    human: Human,
    *,
    tempo: tuple[float, float] = (80, 150),
    meant: list[tuple[Fraction, Due, int]] | None = None,
    start_s: float | None = None,
) -> HumanTake:
    bpm = float(np.round(rng.uniform(*tempo)))
    start = 4 * 60.0 / bpm * int(rng.integers(0, 3)) if start_s is None else start_s
    played = perform(rng, meant or _whole(written), bpm, start, human)
    written = sorted(written, key=lambda one: (one.beat, one.note))
    return HumanTake(tuple(written), beats, bpm, start, played)


def steady(rng: np.random.Generator) -> HumanTake:
    """Sixteen bars written through, to a click."""
    return _take(rng, sentence(rng, 16), 64, Human(jitter_s=rng.uniform(0.007, 0.013)))


def late_starter(rng: np.random.Generator) -> HumanTake:
    """Begins 50 to 80 ms late and settles within two bars."""
    return _take(rng, sentence(rng, 16), 64, Human(settle_s=rng.uniform(0.05, 0.08)), start_s=2.0)


def one_short_note(rng: np.random.Generator) -> HumanTake:
    """Written through with a single pair of 32nds on the snare."""
    written = sentence(rng, 12)
    at = Fraction(int(rng.integers(6, 40)))
    written = [one for one in written if not (one.note == SNARE and at <= one.beat < at + 1)]
    written += [
        Due(at, SNARE),
        Due(at + Fraction(1, 8), SNARE, GHOST),
        Due(at + Fraction(1, 4), SNARE),
    ]
    human = Human(jitter_s=0.016, wander_s=0.02)
    return _take(rng, written, 48, human, tempo=(80, 120))


def rests(rng: np.random.Generator) -> HumanTake:
    """Six bars, two bars of silence, six more."""
    early = sentence(rng, 6)
    later = [Due(one.beat + 32, one.note, one.loud, one.graces) for one in sentence(rng, 6)]
    return _take(rng, early + later, 56, Human())


def another_bar(rng: np.random.Generator) -> HumanTake:
    """Three bars of sixteen are played as another bar than the written one."""
    written = sentence(rng, 16)
    others = {int(n) for n in rng.choice(np.arange(2, 15), 3, replace=False)}
    meant = _whole([one for one in written if int(one.beat // 4) not in others])
    for number in others:
        meant += _instead(written, bar(GROOVES[str(rng.choice(list(GROOVES)))], number))
    return _take(rng, written, 64, Human(), meant=meant)


def jumbled(rng: np.random.Generator) -> HumanTake:
    """Two bars of sixteen are played as two others of the same piece."""
    written = sentence(rng, 16)
    at, other = (int(n) for n in rng.choice([2, 5, 9, 12], 2, replace=False))
    moved = {at: other, at + 1: other + 1}
    meant = _whole([one for one in written if int(one.beat // 4) not in moved])
    for to, number in moved.items():
        own = [one for one in written if int(one.beat // 4) == number]
        beats = [replace(one, beat=one.beat + 4 * (to - number)) for one in own]
        meant += _instead(written, beats)
    return _take(rng, written, 64, Human(), meant=meant)


def drops_out(rng: np.random.Generator) -> HumanTake:
    """Leaves out two bars of sixteen, and comes back with a fill of its own."""
    written = sentence(rng, 16)
    at = int(rng.integers(4, 11))
    meant = _whole([one for one in written if not at <= one.beat // 4 < at + 3])
    meant += _instead(written, bar(FILLS[int(rng.integers(len(FILLS)))], at + 2))
    return _take(rng, written, 64, Human(), meant=meant)


def wanders(rng: np.random.Generator) -> HumanTake:
    """Slow, to a click, and to and fro by 100 ms."""
    human = Human(wander_s=rng.uniform(0.022, 0.028), wander_over_s=5.0)
    return _take(rng, sentence(rng, 16), 64, human, tempo=(60, 70))


def modules(rng: np.random.Generator) -> HumanTake:
    """Cross-sticks and rims, of which many have a faint head note before them; flams and drags."""
    written: list[Due] = []
    for number in range(12):
        if number % 4 == 3:
            written += bar(FILLS[int(rng.integers(1, len(FILLS)))], number)
        else:
            written += bar(GROOVES["bossa"], number)
    return _take(rng, written, 48, Human(faint=0.8), tempo=(90, 140))


def with_fills(rng: np.random.Generator, every: int = 4) -> HumanTake:
    """Two bars repeated for a whole take, with a fill of the player's own in every fourth pass."""
    groove = GROOVES[str(rng.choice(list(GROOVES)))]
    passes = [[*bar(groove, 2 * turn), *bar(groove, 2 * turn + 1)] for turn in range(12)]
    meant: list[tuple[Fraction, Due, int]] = []
    for turn, written in enumerate(passes):
        fill = bar(FILLS[int(rng.integers(len(FILLS)))], 2 * turn + 1)
        if turn % every == every - 1:
            meant += _whole([one for one in written if one.beat < 8 * turn + 4])
            meant += _instead(written, fill)
        else:
            meant += _whole(written)
    return _take(rng, passes[0], 8, Human(), meant=meant)


def unknown_notes(rng: np.random.Generator) -> HumanTake:
    """Half of the hi-hat comes as the edge note, which General MIDI does not have."""
    return _take(rng, sentence(rng, 16), 64, Human(alien=0.5))


def long(rng: np.random.Generator, minutes: float = 10.0) -> HumanTake:
    """Ten minutes written through."""
    bpm = 100.0
    bars = int(minutes * bpm / 4)
    return _take(rng, sentence(rng, bars), 4 * bars, Human(), tempo=(bpm, bpm))


KINDS: dict[str, Callable[[np.random.Generator], HumanTake]] = {
    "steady": steady,
    "late": late_starter,
    "short-note": one_short_note,
    "rests": rests,
    "another-bar": another_bar,
    "jumbled": jumbled,
    "drops-out": drops_out,
    "wanders": wanders,
    "modules": modules,
    "with-fills": with_fills,
    "unknown-notes": unknown_notes,
}


def make(kind: str, seed: int) -> HumanTake:
    """Return a take of a kind (a key of KINDS), drawn from a seed."""
    return KINDS[kind](np.random.default_rng([seed, list(KINDS).index(kind)]))


def _track(rows: list[tuple[int, int, int]], bpm: float, end: int) -> mido.MidiTrack:
    """Return a track of (tick, note, velocity) on channel 10, each note a few ticks long."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm), time=0)])
    events = [(tick, 1, note, velocity) for tick, note, velocity in rows]
    events += [(tick + 1, 0, note, 0) for tick, note, _ in rows]
    before = 0
    for tick, on, note, velocity in sorted(events):
        kind = "note_on" if on else "note_off"
        track.append(
            mido.Message(kind, channel=9, note=note, velocity=velocity, time=tick - before)
        )
        before = tick
    track.append(mido.MetaMessage("end_of_track", time=max(0, end - before)))
    return track


def _file(rows: list[tuple[int, int, int]], bpm: float, ticks: int, end: int = 0) -> mido.MidiFile:
    file = mido.MidiFile(type=0, ticks_per_beat=ticks)
    file.tracks.append(_track(rows, bpm, end))
    return file


def in_file(take: HumanTake) -> list[tuple[int, int, int, Fraction | None, int]]:
    """Return the strokes of a take in the order of its file: tick, note, velocity, and truth."""
    per_s = FINE_TICKS * take.tempo / 60.0
    rows = [(round(at * per_s), *rest) for at, *rest in take.played]
    return sorted(rows, key=lambda row: row[:3])


def write(folder: Path, name: str, take: HumanTake) -> None:
    """Write the three files of a take."""
    folder.mkdir(parents=True, exist_ok=True)
    rows = []
    for one in take.written:
        at = int(one.beat * TICKS)
        quarter_ms = 60000.0 / take.tempo
        for place in range(one.graces, 0, -1):
            lead = round((35 if one.graces == 1 else 30 * place) / quarter_ms * TICKS)
            # Off every grid, or it would be a stroke of its own.
            rows.append((max(0, at - (lead | 1)), one.note, 45))
        rows.append((at, one.note, one.loud))
    _file(rows, take.tempo, TICKS, take.beats * TICKS).save(folder / f"{name}.pattern.mid")
    played = in_file(take)
    _file([row[:3] for row in played], take.tempo, FINE_TICKS).save(folder / f"{name}.mid")
    with (folder / f"{name}.truth.csv").open("w", newline="") as file:
        lines = csv.writer(file)
        lines.writerow([repr(take.start_s), repr(take.tempo)])
        for *_, beat, note in played:
            lines.writerow(["", ""] if beat is None else [str(beat), str(note)])


def write_all(folder: Path, seed: int, each: int = 3) -> None:
    """Write so many takes of each kind."""
    for kind in KINDS:
        for number in range(each):
            write(folder, f"{kind}-{number + 1}", make(kind, seed + number))


if __name__ == "__main__":
    write_all(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
