"""Broken and hostile MIDI files: one sentence, in bounded time."""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadInput
from trainer.pattern.formats.midi_file import MAX_BYTES, MAX_NOTES, MidiFile, read_midi

if TYPE_CHECKING:
    from pathlib import Path

HEAD = b"MThd" + struct.pack(">LHHH", 6, 0, 1, 96)
WHOLE = HEAD + b"MTrk" + struct.pack(">L", 12) + bytes.fromhex("00992640 60992600 00FF2F00")


def _read(data: bytes) -> MidiFile | BadInput:
    """Return the file, or the refusal; any other exception ends the test."""
    try:
        return read_midi(data)
    except BadInput as error:
        return error


@pytest.mark.parametrize("cut", range(len(WHOLE) - 8))
def test_a_file_cut_anywhere_is_bad_input_or_shorter(cut: int) -> None:
    """Cut at any byte, a file is refused in words, or read as far as its chunks go."""
    found = _read(WHOLE[:cut])

    assert "MIDI file" in str(found) if isinstance(found, BadInput) else len(found.notes) <= 1


@given(st.binary(max_size=200))
def test_random_bytes_never_crash(junk: bytes) -> None:
    """Junk after a right header is notes or BadInput, never another exception."""
    body = HEAD + b"MTrk" + struct.pack(">L", len(junk)) + junk
    found = _read(body)

    assert found.fix if isinstance(found, BadInput) else found.track_count <= 1


@given(at=st.integers(0, len(WHOLE) - 1), value=st.integers(0, 255))
def test_one_wrong_byte_never_crashes(at: int, value: int) -> None:
    """Any single byte changed gives a file or BadInput."""
    changed = bytearray(WHOLE)
    changed[at] = value
    found = _read(bytes(changed))

    assert found.fix if isinstance(found, BadInput) else len(found.notes) <= 2


def test_an_endless_number_is_refused_at_once() -> None:
    """Megabytes of continuation bytes are refused after the fourth."""
    junk = b"\x80" * 1_000_000
    with pytest.raises(BadInput, match="byte 26"):
        read_midi(HEAD + b"MTrk" + struct.pack(">L", len(junk)) + junk)


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    """A file above the limit is refused without being read whole."""
    path = tmp_path / "huge.mid"
    with path.open("wb") as file:
        file.truncate(20 * MAX_BYTES)

    with pytest.raises(BadInput, match=r"huge\.mid.*8 MB"):
        read_midi(path)


def test_too_many_notes_are_refused() -> None:
    """The count of notes is bounded, whatever their bytes."""
    junk = b"\x00\x99\x26\x40" + b"\x00\x26\x40" * MAX_NOTES
    with pytest.raises(BadInput, match="more than 1,000,000 notes"):
        read_midi(HEAD + b"MTrk" + struct.pack(">L", len(junk)) + junk)


def test_a_missing_file_is_reported_by_name(tmp_path: Path) -> None:
    """No file: the sentence names it and the reason."""
    with pytest.raises(BadInput, match=r"gone\.mid.*no such file"):
        read_midi(tmp_path / "gone.mid")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    """A folder given as a file is bad input."""
    with pytest.raises(BadInput, match="not a file"):
        read_midi(tmp_path)
