"""A pattern laid out in time: passes at their tempos, their targets, and the beats and clicks.

Times are seconds on the session's clock. A target's time is always computed from its pass in the
same way, so that live practice, replay and assessment agree to the last bit.

The beat is the written one (the meter's lower number), or the note the tempo counts where that is
a dotted one that fills the bar (a 6/8 counted in dotted quarters has two beats). The schedule holds
the beats and clicks of what is laid out, hands them out when due, and drops them when a pass is
cut off.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from trainer.errors import BadInput
from trainer.pattern.as_played import bar_beats, beat_length, grace_lead_s, played_places
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO, NOTE_VALUES
from trainer.practice.click_figure import COUNT_IN, PLAYING, Beat, ClickFigure, DueClick
from trainer.practice.events import BeatStarted

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.pattern.model import Note, Pattern


def check_tempo(bpm: float) -> float:
    """Return the tempo, or raise BadInput when it is outside 20 to 400 BPM."""
    if not MIN_TEMPO <= bpm <= MAX_TEMPO:
        raise BadInput(
            f"a tempo of {bpm:g} BPM is out of range",
            fix=f"choose one from {MIN_TEMPO:g} to {MAX_TEMPO:g}",
        )
    return bpm


GRACE_ROOM_S = 0.1
"""More than grace strokes come before their main stroke, and less than any bar takes."""


@dataclass(frozen=True, slots=True)
class Pass:
    """One time through the pattern: its number, tempo (BPM) and the second its first beat falls on.

    `rung` numbers the ladder's rungs (0 in plain practice). `end_s`, when set, is where the pass
    was cut off (pause, restart, the end of a take): targets due at or after it are not judged.
    `from_s`, when set, makes it the later piece of a pass that was interrupted: targets due before
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

    @property
    def begins_s(self) -> float:
        """When its first stroke can be due: where its earlier piece ended, else its start.

        `start_s` of a later piece is where the pattern would have begun.
        """
        return self.start_s if self.from_s is None else self.from_s

    def left_out(self, bar_end_s: float) -> bool:
        """Return whether a bar that ends at a second belongs to an earlier piece of the pass."""
        return self.from_s is not None and bar_end_s <= self.from_s + GRACE_ROOM_S


@dataclass(frozen=True, slots=True)
class Target:
    """One stroke to play: where it is in the pattern and when it is due.

    `index` counts targets through the whole course, `note_index` points into the pattern's notes.
    `feel` is None where nothing is written beyond the note.
    """

    index: int
    pass_index: int
    note_index: int
    time_s: float
    note: Note
    feel: TargetFeel | None = None

    @property
    def until_s(self) -> float | None:
        """When a buzz stroke is over, None for others."""
        return self.feel.until_s if self.feel else None

    @property
    def louder(self) -> float:
        """How much louder than mf the dynamics have it, in steps of velocity."""
        return self.feel.louder if self.feel else 0.0


class TargetFeel(NamedTuple):
    """What is written of a stroke beyond its note.

    A buzz is held `until_s` (None for others); `louder` is how much louder than mf the dynamics
    have it, in steps of velocity (`trainer.pattern.as_played`).
    """

    until_s: float | None
    louder: float


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
    """Return the length of a quarter note in seconds at a tempo in the pattern's own unit.

    Where the tempo changes it is that of the pattern's own tempo (`trainer.pattern.as_played`).
    """
    return 60.0 / (tempo * float(pattern.tempo_unit))


def pattern_seconds(pattern: Pattern, tempo: float) -> float:
    """Return how long the pattern takes once, in seconds, at a tempo in its own unit."""
    return played_places(pattern).length * seconds_per_quarter(pattern, tempo)


def beat_time(pattern: Pattern, one: Pass, beat: Fraction | float) -> float:
    """Return when a beat (quarter notes from the pattern's start) falls, in seconds."""
    return one.start_s + played_places(pattern).at(beat) * seconds_per_quarter(pattern, one.tempo)


def beat_at(pattern: Pattern, one: Pass, time_s: float) -> float:
    """Return the beat (quarter notes from the pattern's start) that a second falls on."""
    played = (time_s - one.start_s) / seconds_per_quarter(pattern, one.tempo)
    return played_places(pattern).written(played)


def pass_end(pattern: Pattern, one: Pass) -> float:
    """Return when the pass is over: its written end, or where it was cut off."""
    whole = one.start_s + pattern_seconds(pattern, one.tempo)
    return whole if one.end_s is None else min(whole, one.end_s)


EARLY_S = (0.1, 0.25)
"""A hit can be meant for a pass half a beat before it starts, within these bounds (seconds)."""


def early_s(quarter_s: float) -> float:
    """Return how long before a pass a hit may belong to it: half a quarter, within bounds."""
    return min(max(quarter_s / 2, EARLY_S[0]), EARLY_S[1])


def pass_targets(pattern: Pattern, one: Pass, first_index: int) -> list[Target]:
    """Return the targets of one pass in time order, numbered from `first_index`."""
    quarter, places = seconds_per_quarter(pattern, one.tempo), played_places(pattern)
    due = []
    for note_index, note in enumerate(pattern.notes):
        time_s = one.start_s + one.click_late_s + places.notes[note_index] * quarter
        if note.grace:
            time_s -= grace_lead_s(note, quarter * places.pace(note.beat))
        asked = one.from_s is None or time_s >= one.from_s
        if asked and (one.end_s is None or time_s < one.end_s):
            due.append((time_s, note_index))
    due.sort()
    found = []
    for count, (time_s, note_index) in enumerate(due):
        note = pattern.notes[note_index]
        feel = None
        if note.buzz or places.louder[note_index]:
            held_s = float(NOTE_VALUES[note.value].length) * quarter * places.pace(note.beat)
            feel = TargetFeel(time_s + held_s if note.buzz else None, places.louder[note_index])
        found.append(Target(first_index + count, one.index, note_index, time_s, note, feel))
    return found


def count_in_beats(
    pattern: Pattern, tempo: float, start_s: float, bars: int, bar: int = 0
) -> list[Beat]:
    """Return the beats of `bars` bars in the meter of a bar that lead up to it at `start_s`."""
    meter = pattern.bars[bar].meter
    length = beat_length(pattern, meter)
    beats = bar_beats(pattern, meter)
    step = count_in_seconds(pattern, tempo, bars, bar) / (bars * beats) if bars else 0.0
    first = start_s - bars * beats * step
    looks = _beat_looks(pattern, bar, length)
    return [
        Beat(first + count * step, COUNT_IN, count // beats, count % beats, beats, step, *look)
        for count, look in enumerate(looks * bars)
    ]


def count_in_seconds(pattern: Pattern, tempo: float, bars: int, bar: int = 0) -> float:
    """Return how long a count-in of so many bars takes, in seconds: in the tempo of a bar."""
    first = pattern.bars[bar]
    quarter_s = seconds_per_quarter(pattern, tempo) * played_places(pattern).pace(first.start)
    return bars * float(first.meter.length) * quarter_s


def _beat_looks(
    pattern: Pattern, bar: int, length: Fraction
) -> list[tuple[bool, int, float, float]]:
    """Return for each beat whether it is inside a group, its swung pairs, their share, its length.

    `length` is that of a beat in quarter notes.
    """
    written = pattern.bars[bar]
    starts = written.meter.group_starts if length == written.meter.beat else None
    swing = next((one for one in pattern.swing if one.start <= written.start < one.end), None)
    pairs = length / (2 * NOTE_VALUES[swing.value].length) if swing else Fraction(0)
    share = float(swing.share) if swing else 0.5
    return [
        (starts is not None and count not in starts, int(pairs), share, float(length))
        for count in range(int(written.meter.length / length))
    ]


def pass_beats(pattern: Pattern, one: Pass) -> list[Beat]:
    """Return every beat of one pass, bar by bar."""
    found = []
    for number, bar in enumerate(pattern.bars):
        if one.left_out(beat_time(pattern, one, bar.end)):
            continue
        length = beat_length(pattern, bar.meter)
        looks = _beat_looks(pattern, number, length)
        for count, look in enumerate(looks):
            time_s = beat_time(pattern, one, bar.start + count * length)
            length_s = beat_time(pattern, one, bar.start + (count + 1) * length) - time_s
            found.append(Beat(time_s, PLAYING, number, count, len(looks), length_s, *look))
    return found


NEVER = float("inf")

CLICK_ROOM_S = 0.020
"""A pass is not settled this shortly before a click: its verdict can take some milliseconds."""

Due = TypeVar("Due", "BeatStarted", "DueClick")


class ClickSchedule:
    """The beats and clicks of what is laid out, in time order.

    `figure` says what the click plays.
    """

    def __init__(self, pattern: Pattern, figure: ClickFigure) -> None:
        self._pattern, self._figure = pattern, figure
        self._beats: deque[BeatStarted] = deque()
        self._clicks: deque[DueClick] = deque()
        self._bars = self._laid_out = 0
        self._put_off = False

    def count_in(
        self, pass_index: int, tempo: float, start_s: float, bars: int, bar: int = 0
    ) -> None:
        """Lay out the count-in that leads up to a bar."""
        self._add(count_in_beats(self._pattern, tempo, start_s, bars, bar), pass_index, tempo)

    def lay_out(self, one: Pass) -> None:
        """Lay out a pass."""
        self._add(pass_beats(self._pattern, one), one.index, one.tempo)

    def clear(self) -> None:
        """Drop all that is to come; the turn of silent bars begins again."""
        self._beats.clear()
        self._clicks.clear()
        self._bars = 0

    @property
    def next_beat_s(self) -> float:
        """When the next beat begins."""
        return self._beats[0].time_s if self._beats else NEVER

    @property
    def next_click_s(self) -> float:
        """When the next click is due."""
        return self._clicks[0].time_s if self._clicks else NEVER

    def put_off(self, now: float) -> bool:
        """Return True, once, where a click is due so soon that judging, which takes time, waits."""
        self._put_off = self.next_click_s - now < CLICK_ROOM_S and not self._put_off
        return self._put_off

    def beats(self, now: float) -> list[BeatStarted]:
        """Return the beats that have begun, once each."""
        return _taken_until(self._beats, now)

    def clicks(self, until_s: float) -> list[DueClick]:
        """Return the clicks due up to a second, once each."""
        return _taken_until(self._clicks, until_s)

    def _add(self, found: Iterable[Beat], pass_index: int, tempo: float) -> None:
        for one in found:
            playing = one.phase == PLAYING
            silent = playing and self._figure.silent.silent(self._bars, self._laid_out)
            self._beats.append(
                BeatStarted(
                    one.time_s, one.phase, pass_index, one.bar, one.beat, one.beats, tempo, silent
                )
            )
            self._clicks.extend(self._figure.clicks(one, self._bars, silent=silent))
            if playing and one.beat == one.beats - 1:
                self._bars += 1
                self._laid_out += 1


def _taken_until(queue: deque[Due], second: float) -> list[Due]:
    found: list[Due] = []
    while queue and queue[0].time_s <= second:
        found.append(queue.popleft())
    return found
