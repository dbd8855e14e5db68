"""A pattern laid out in time: the passes to play, each at its tempo, and their targets.

Times are seconds on the session's clock. A target's time is always computed by `beat_time` from
its pass, so that live practice, replay and scoring agree to the last bit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.pattern.grace import grace_lead_s

if TYPE_CHECKING:
    from fractions import Fraction

    from trainer.pattern.model import Note, Pattern

MIN_TEMPO, MAX_TEMPO = 20.0, 400.0


def check_tempo(bpm: float) -> float:
    """Return the tempo, or raise BadInput when it is outside 20 to 400 BPM."""
    if not MIN_TEMPO <= bpm <= MAX_TEMPO:
        raise BadInput(
            f"a tempo of {bpm:g} BPM is out of range",
            mend=f"choose one from {MIN_TEMPO:g} to {MAX_TEMPO:g}",
        )
    return bpm


@dataclass(frozen=True, slots=True)
class Pass:
    """One time through the pattern: its number, tempo (BPM) and the second its first beat falls on.

    `rung` numbers the ladder's rungs (0 in plain practice). `end_s`, when set, is where the pass
    was cut off (pause, restart, the end of a take): targets due at or after it are not judged.
    `from_s`, when set, makes it the later piece of a pass that was broken off: targets due before
    it belong to an earlier piece.
    `click_late_s` is how late the click was really sent, as measured before the pass: its targets
    are counted from the click that the player heard.
    """

    index: int
    tempo: float
    start_s: float
    rung: int = 0
    end_s: float | None = None
    click_late_s: float = 0.0
    from_s: float | None = None


@dataclass(frozen=True, slots=True)
class Target:
    """One stroke to play: where it stands in the pattern and when it is due.

    `index` counts targets through the whole course, `note_index` points into the pattern's notes.
    """

    index: int
    pass_index: int
    note_index: int
    time_s: float
    note: Note


@dataclass(frozen=True, slots=True)
class Course:
    """The passes of one pattern; `targets()` lays out every stroke that is judged."""

    pattern: Pattern
    passes: tuple[Pass, ...]

    @property
    def begun(self) -> int:
        """How many times the pattern was begun: later pieces of a pass do not count."""
        return sum(one.from_s is None for one in self.passes)

    def targets(self) -> tuple[Target, ...]:
        """Return all targets, numbered from 0 in the order of passes and notes."""
        found: list[Target] = []
        for one in self.passes:
            found += pass_targets(self.pattern, one, len(found))
        return tuple(found)


def seconds_per_quarter(pattern: Pattern, tempo: float) -> float:
    """Return the length of a quarter note in seconds at a tempo in the pattern's own unit."""
    return 60.0 / (tempo * float(pattern.tempo_unit))


def beat_time(pattern: Pattern, one: Pass, beat: Fraction | float) -> float:
    """Return when a beat (quarter notes from the pattern's start) falls, in seconds."""
    return one.start_s + float(beat) * seconds_per_quarter(pattern, one.tempo)


def pass_end(pattern: Pattern, one: Pass) -> float:
    """Return when the pass is over: its written end, or where it was cut off."""
    whole = beat_time(pattern, one, pattern.length)
    return whole if one.end_s is None else min(whole, one.end_s)


def pass_targets(pattern: Pattern, one: Pass, first_index: int) -> list[Target]:
    """Return the targets of one pass in time order, numbered from `first_index`."""
    quarter = seconds_per_quarter(pattern, one.tempo)
    due = []
    for note_index, note in enumerate(pattern.notes):
        time_s = one.start_s + one.click_late_s + float(note.beat) * quarter
        if note.grace:
            time_s -= grace_lead_s(note, quarter)
        asked = one.from_s is None or time_s >= one.from_s
        if asked and (one.end_s is None or time_s < one.end_s):
            due.append((time_s, note_index))
    due.sort()
    return [
        Target(first_index + count, one.index, note_index, time_s, pattern.notes[note_index])
        for count, (time_s, note_index) in enumerate(due)
    ]
