"""A take that was recorded elsewhere: every stroke of a Standard MIDI File, in seconds.

`read_take(path)` is the whole interface. Strokes are the note-ons with a velocity above 0, in file
order (the order of time; tracks at the same tick keep their order), on the percussion channel 10
where it has any, else on all channels. No note is left out because the kit does not know it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.pattern.formats.midi_file import PERCUSSION, bpm_of, read_midi

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.formats.midi_file import MidiFile, NoteOn

MOST_IN_A_SECOND = 4000
"""Strokes in a second at most: a MIDI cable carries some 1,000 (31,250 baud, MIDI 1.0), and no two
hands and feet a hundredth of that. Judging more of them would take longer than anybody waits."""

MAX_TAKE_S = 24 * 3600.0
"""A take longer than a day is a broken file, not a take."""


@dataclass(frozen=True, slots=True)
class Take:
    """A recorded take. Times are seconds from the file's start.

    `tempo` is the first tempo written, in quarter notes a minute, None where none is; `tempos` is
    the whole tempo map as (from second, BPM). `end_s` is the end of the longest track, never
    before the last stroke. `chokes` are presses on a note, `remarks` says in words
    what was chosen for the player.
    """

    name: str
    strikes: tuple[Strike, ...]
    end_s: float
    tempo: float | None
    tempos: tuple[tuple[float, float], ...]
    remarks: tuple[str, ...] = ()
    chokes: tuple[Strike, ...] = ()


def read_take(path: Path | str) -> Take:
    """Read a take from a Standard MIDI File.

    Raises BadInput for a file that cannot be read, holds no strokes, or lasts more than a day.
    """
    path = Path(path)
    file = read_midi(path)
    notes, remarks = _chosen(file)
    if not notes:
        raise BadInput(
            "the take has no notes", where=path.name, fix="export the track the kit is on"
        )
    clock = file.tempo_map()
    strikes = tuple(Strike(clock.seconds(on.tick), on.note, on.velocity) for on in notes)
    end_s = max(clock.seconds(file.end_tick), strikes[-1].time_s)
    if end_s > MAX_TAKE_S:
        raise BadInput(
            f"the take lasts {end_s / 3600:,.0f} hours", where=path.name, fix="export it again"
        )
    _check_dense(strikes, path.name)
    tempos = tuple((clock.seconds(tick), bpm_of(tempo)) for tick, tempo in file.tempos)
    chokes = tuple(Strike(clock.seconds(on.tick), on.note, 0) for on in file.chokes)
    tempo = tempos[0][1] if tempos else None
    return Take(path.stem, strikes, end_s, tempo, tempos, remarks, chokes)


def _check_dense(strikes: Sequence[Strike], name: str) -> None:
    """Refuse a file in which a second holds more strokes than anybody can play or send."""
    for first, last in zip(strikes, strikes[MOST_IN_A_SECOND:], strict=False):
        if last.time_s - first.time_s < 1.0:
            raise BadInput(
                f"there are more than {MOST_IN_A_SECOND} strokes in one second",
                where=f"{name}, {first.time_s:.1f} s",
                fix="this is no recording of a player; export it again",
            )


def _chosen(file: MidiFile) -> tuple[list[NoteOn], tuple[str, ...]]:
    """Return the notes that are strokes, and what to show about the choice."""
    drums = [note for note in file.notes if note.channel == PERCUSSION] or file.notes
    remarks = []
    if drums and drums[0].channel != PERCUSSION:
        remarks.append("nothing is on channel 10 (percussion): all channels were read")
    if file.format == 2 and drums:
        # The tracks of a format 2 file are takes of their own; side by side they mean nothing.
        track = min(note.track for note in drums)
        drums = [note for note in drums if note.track == track]
        remarks.append(f"the file holds separate takes; track {track + 1} was read")
    return drums, tuple(remarks)
