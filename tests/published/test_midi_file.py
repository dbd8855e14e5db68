"""The reading of MIDI files against the Standard MIDI File 1.1 text and two other readers.

The text is that of the International MIDI Association (updated by D. Back, 1999).
"""

from __future__ import annotations

import io
import struct
from fractions import Fraction
from typing import TYPE_CHECKING

import mido
import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadInput
from trainer.pattern.formats.midi_file import read_midi

if TYPE_CHECKING:
    from pathlib import Path

# SMF 1.1, "variable-length quantities": value and bytes, all twelve of the table.
VLQ = {
    0x00: "00",
    0x40: "40",
    0x7F: "7F",
    0x80: "8100",
    0x2000: "C000",
    0x3FFF: "FF7F",
    0x4000: "818000",
    0x100000: "C08000",
    0x1FFFFF: "FFFF7F",
    0x200000: "81808000",
    0x8000000: "C0808000",
    0xFFFFFFF: "FFFFFF7F",
}

# Microseconds a quarter for BPM, rounded; computed with mido.bpm2tempo.
TEMPOS = {60: 1000000, 90: 666667, 100: 600000, 130: 461538, 140: 428571, 174: 344828, 200: 300000}


def smf(*tracks: bytes, kind: int = 0, division: int = 96) -> bytes:
    """Return a file of raw track bodies, each ended as the format demands."""
    head = b"MThd" + struct.pack(">LHHH", 6, kind, len(tracks), division)
    bodies = [track + b"\x00\xff\x2f\x00" for track in tracks]
    return head + b"".join(b"MTrk" + struct.pack(">L", len(body)) + body for body in bodies)


@pytest.mark.parametrize(("value", "written"), VLQ.items())
def test_variable_length_numbers(value: int, written: str) -> None:
    """Every row of the specification's table is read as its value."""
    file = read_midi(smf(bytes.fromhex(written) + b"\x99\x26\x40"))

    assert file.notes[0].tick == value


def test_five_bytes_of_a_number_break_the_format() -> None:
    """FFFFFF7F is the largest number allowed (SMF 1.1); a fifth byte is an error, not a wait."""
    with pytest.raises(BadInput, match="longer than the format allows"):
        read_midi(smf(b"\x81\x80\x80\x80\x00\x99\x26\x40"))


@pytest.mark.parametrize(("bpm", "micros"), TEMPOS.items())
def test_tempo_is_microseconds_a_quarter(bpm: int, micros: int) -> None:
    """FF 51 03 holds microseconds a quarter in 24 bits."""
    file = read_midi(smf(b"\x00\xff\x51\x03" + micros.to_bytes(3, "big") + b"\x60\x99\x26\x40"))

    assert file.tempos == [(0, micros)]
    assert file.tempo_map().seconds(96) == pytest.approx(60 / bpm, abs=1e-6)


def test_default_tempo_is_120() -> None:
    """Without a tempo a quarter lasts half a second (SMF 1.1)."""
    assert read_midi(smf(b"\x00\x99\x26\x40")).tempo_map().seconds(96) == 0.5


def test_six_eight_with_a_click_on_the_dotted_quarter() -> None:
    """FF 58 04 06 03 24 08 is 6/8 with a click each 36 clocks (the specification's example)."""
    file = read_midi(smf(bytes.fromhex("00 FF5804 06032408 00 992640")))

    assert file.meters == [(0, 6, 8, 36)]


def test_running_status_and_velocity_nought() -> None:
    """99 26 64, 2A 50, 26 00: two strokes and the end of the first (SMF 1.1, MIDI 1.0)."""
    file = read_midi(smf(bytes.fromhex("00 992664 10 2A50 10 2600")))

    assert [(n.tick, n.note, n.velocity, n.length) for n in file.notes] == [
        (0, 0x26, 0x64, 32),
        (16, 0x2A, 0x50, None),
    ]


def test_meta_events_cancel_running_status() -> None:
    """After a system exclusive event, data bytes without a status are an error (SMF 1.1)."""
    with pytest.raises(BadInput, match="no event"):
        read_midi(smf(bytes.fromhex("00 992664 00 F0 01 F7 00 2A50")))


@pytest.mark.parametrize(
    ("division", "ticks_a_second"),
    [(0xE250, Fraction(2400)), (0xE728, Fraction(1000)), (0xE350, Fraction(80 * 30000, 1001))],
)
def test_time_code_divisions(division: int, ticks_a_second: Fraction) -> None:
    """E250 is 30 frames of 80 ticks, E728 is 25 of 40: milliseconds (SMF 1.1); tempo is idle."""
    slow = b"\x00\xff\x51\x03" + (2_000_000).to_bytes(3, "big")
    file = read_midi(smf(slow + b"\x87\x68\x99\x26\x40", division=division))

    assert file.ticks_per_second == ticks_a_second
    assert file.tempo_map().seconds(1000) == float(1000 / ticks_a_second)


def test_unknown_chunks_and_metas_are_skipped() -> None:
    """Alien chunks and unknown meta events are passed over by their length (SMF 1.1)."""
    body = bytes.fromhex("00 FF7E03 010203 00 FF5902 7F07 00 992640")
    whole = smf(body)
    alien = whole[:14] + b"XFIH\x00\x00\x00\x02ab" + whole[14:]

    assert len(read_midi(alien).notes) == 1


def _takes() -> st.SearchStrategy[list[tuple[int, int, int, int]]]:
    row = st.tuples(
        st.integers(0, 2000), st.integers(0, 127), st.integers(1, 127), st.integers(1, 300)
    )
    return st.lists(row, min_size=1, max_size=40)


@given(rows=_takes(), tempos=st.lists(st.tuples(st.integers(1, 3000), st.integers(20, 400))))
def test_times_agree_with_mido(
    rows: list[tuple[int, int, int, int]], tempos: list[tuple[int, int]]
) -> None:
    """mido, playing the same bytes, gives the same notes at the same seconds."""
    file = mido.MidiFile(type=1, ticks_per_beat=480)
    file.tracks.append(
        mido.MidiTrack(
            mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm), time=gap)
            for gap, bpm in tempos
        )
    )
    file.tracks.append(
        mido.MidiTrack(
            mido.Message("note_on", channel=9, note=note, velocity=velocity, time=gap)
            for gap, note, velocity, _ in rows
        )
    )
    out = io.BytesIO()
    file.save(file=out)

    ours = read_midi(out.getvalue())
    clock = ours.tempo_map()

    now, theirs = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(out.getvalue())):
        now += message.time
        if message.type == "note_on" and message.velocity:
            theirs.append((now, message.note, message.velocity))
    assert [(n.note, n.velocity) for n in ours.notes] == [row[1:] for row in theirs]
    assert [clock.seconds(n.tick) for n in ours.notes] == pytest.approx([row[0] for row in theirs])


def test_notes_agree_with_pretty_midi(tmp_path: Path) -> None:
    """pretty_midi reads the same drum notes, starts and ends from the same file."""
    made = pretty_midi.PrettyMIDI(initial_tempo=96.0)
    drums = pretty_midi.Instrument(0, is_drum=True)
    for step in range(64):
        start = step * 60 / 96 / 6
        drums.notes.append(pretty_midi.Note(30 + step, 35 + step % 20, start, start + 0.02))
    made.instruments.append(drums)
    path = tmp_path / "made.mid"
    made.write(str(path))

    ours = read_midi(path)
    clock = ours.tempo_map()
    theirs = sorted(
        pretty_midi.PrettyMIDI(str(path)).instruments[0].notes, key=lambda note: note.start
    )

    assert [(n.note, n.velocity) for n in ours.notes] == [(n.pitch, n.velocity) for n in theirs]
    assert [clock.seconds(n.tick) for n in ours.notes] == pytest.approx([n.start for n in theirs])
    ends = [clock.seconds(n.tick + (n.length or 0)) for n in ours.notes]
    assert ends == pytest.approx([n.end for n in theirs])
