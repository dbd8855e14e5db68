"""The computer keyboard as a kit."""

import os
import pty
import sys

import pytest

from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.voices import VOICES
from trainer.midi import keyboard as keys
from trainer.midi.keyboard import TerminalKeys


def test_every_key_plays_a_voice_of_the_default_kit():
    """Each key's note is read back by the General MIDI kit as the voice the table names."""
    for key, note in keys.key_notes().items():
        pad = GENERAL_MIDI.pad(note)
        assert pad is not None
        assert pad.voice == keys.KEY_VOICES[key]
    assert set(keys.key_notes()) == set(keys.KEY_VOICES)


def test_each_drum_has_a_key_for_either_hand():
    """Every voice of the table has at least two keys, so that hands can alternate."""
    for voice in set(keys.KEY_VOICES.values()):
        assert voice in VOICES
        assert sum(v == voice for v in keys.KEY_VOICES.values()) >= 2


def test_the_rows_of_keys_are_the_kit_seen_from_the_stool():
    """Far, near and feet; no key stands for two drums, and none that a session needs itself."""
    keys_used = [key for row in keys.KEY_ROWS for two, _ in row for key in two.split()]

    assert len(keys_used) == len(set(keys_used)) == len(keys.KEY_VOICES)
    assert not set(keys_used) & set(" rqz+-=?")
    assert [len(row) for row in keys.KEY_ROWS] == [4, 3, 2]
    assert all(VOICES[voice].foot for _, voice in keys.KEY_ROWS[-1])


def test_presses_become_strikes_once():
    """A key becomes a strike at the time it was handed in; a capital is louder; then it is gone."""
    source = keys.KeySource()
    source.open(0.0)
    assert source.press("g", 1.25)
    assert source.press("G", 1.5)
    assert not source.press("?", 1.6)
    assert source.poll(2.0) == [
        Strike(1.25, 38, keys.VELOCITY),
        Strike(1.5, 38, keys.LOUD),
    ]
    assert source.poll(2.0) == []


def test_keys_without_a_terminal_are_bad_input(monkeypatch):
    """Reading keys from a file or pipe is bad input that tells what to do."""
    read, write = os.pipe()
    with os.fdopen(read) as pipe:
        monkeypatch.setattr(sys, "stdin", pipe)
        with pytest.raises(BadInput, match="terminal"), TerminalKeys():
            pass
    os.close(write)


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo terminal")
def test_keys_come_from_the_terminal_at_once_and_its_state_is_restored(monkeypatch):
    """Keys are read without a return key, and the terminal is as before afterwards."""
    import termios

    ours, theirs = pty.openpty()
    before = termios.tcgetattr(theirs)
    with os.fdopen(theirs) as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        with TerminalKeys() as keyboard:
            assert keyboard.read() == ""
            os.write(ours, b"fj")
            assert keyboard.read() == "fj"
        assert termios.tcgetattr(theirs) == before
    os.close(ours)
