"""Rules of reading a recorded take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import mido
import pytest

from trainer.errors import BadInput
from trainer.midi.take_file import MOST_IN_A_SECOND, read_take

if TYPE_CHECKING:
    from pathlib import Path


def _save(path: Path, *tracks: list[mido.Message | mido.MetaMessage], kind: int = 1) -> Path:
    file = mido.MidiFile(type=kind, ticks_per_beat=480)
    file.tracks.extend(mido.MidiTrack(track) for track in tracks)
    file.save(path)
    return path


def _on(note: int, velocity: int = 80, time: int = 0, channel: int = 9) -> mido.Message:
    return mido.Message("note_on", note=note, velocity=velocity, time=time, channel=channel)


def _tempo(bpm: float, time: int = 0) -> mido.MetaMessage:
    return mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm), time=time)


def test_counts_every_note_on_with_a_velocity(tmp_path: Path) -> None:
    """Velocity 0 is a note-off; every other note-on is a strike, in file order."""
    path = _save(tmp_path / "t.mid", [_on(38), _on(38, 0, 10), _on(36, 5, 20), _on(42, 127)])

    take = read_take(path)

    assert [(s.note, s.velocity) for s in take.strikes] == [(38, 80), (36, 5), (42, 127)]


def test_times_go_through_the_tempo_map(tmp_path: Path) -> None:
    """A quarter at 60 BPM lasts a second, at 120 half a second, wherever the tempo changes."""
    path = _save(
        tmp_path / "t.mid",
        [_tempo(60), _tempo(120, 960)],
        [_on(38), _on(38, time=480), _on(38, time=480), _on(38, time=480), _on(38, time=480)],
    )

    take = read_take(path)

    assert [s.time_s for s in take.strikes] == [0.0, 1.0, 2.0, 2.5, 3.0]
    assert take.tempo == 60.0
    assert take.tempos == ((0.0, 60.0), (2.0, 120.0))


@pytest.mark.parametrize("bpm", [20, 66.5, 90, 97, 133.3, 174, 250, 400])
def test_a_tempo_is_reported_as_it_was_meant(tmp_path: Path, bpm: float) -> None:
    """The rounding to whole microseconds does not show in the tempo."""
    assert read_take(_save(tmp_path / "t.mid", [_tempo(bpm), _on(38)])).tempo == bpm


def test_without_a_tempo_the_tempo_is_unknown(tmp_path: Path) -> None:
    """No tempo written: seconds as at 120 BPM, and the take says it knows no tempo."""
    take = read_take(_save(tmp_path / "t.mid", [_on(38), _on(38, time=480)]))

    assert take.strikes[1].time_s == 0.5
    assert take.tempo is None


def test_percussion_comes_first(tmp_path: Path) -> None:
    """Where channel 10 has notes, the other channels are not strokes; else all are, as is said."""
    mixed = _save(tmp_path / "mixed.mid", [_on(38), _on(60, channel=0)])
    other = _save(tmp_path / "other.mid", [_on(38, channel=0), _on(36, channel=3)])

    assert [s.note for s in read_take(mixed).strikes] == [38]
    assert [s.note for s in read_take(other).strikes] == [38, 36]
    assert "all channels" in read_take(other).remarks[0]


def test_separate_takes_are_not_mixed(tmp_path: Path) -> None:
    """Of a format 2 file one track is read, and the take says which."""
    path = _save(tmp_path / "t.mid", [_tempo(60)], [_on(38)], [_on(36)], kind=2)

    take = read_take(path)

    assert [s.note for s in take.strikes] == [38]
    assert "track 2" in take.remarks[0]


def test_a_take_without_notes_is_bad_input(tmp_path: Path) -> None:
    """No strokes: one sentence with the file's name."""
    path = _save(tmp_path / "empty.mid", [_tempo(60)])

    with pytest.raises(BadInput, match=r"empty\.mid.*no notes"):
        read_take(path)


def test_more_strokes_than_a_cable_carries_are_no_take(tmp_path: Path) -> None:
    """Thousands of strokes at once are refused by name and place before anything is judged."""
    dense = _save(tmp_path / "dense.mid", [_on(38, time=480), *[_on(38)] * MOST_IN_A_SECOND])
    quick = _save(tmp_path / "quick.mid", [_on(38, time=1) for _ in range(MOST_IN_A_SECOND)])

    assert len(read_take(quick).strikes) == MOST_IN_A_SECOND
    with pytest.raises(BadInput, match=r"dense\.mid, 0\.5 s: .* strokes in one second"):
        read_take(dense)
