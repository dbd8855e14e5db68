"""The keys of a session in lines of text."""

from trainer.midi.keyboard import KEY_VOICES
from trainer.practice.events import COMMAND_NAMES
from trainer.show import plain_text


def test_pads_and_commands_share_no_key():
    """No key is both a pad and a command, in either case of the letter."""
    assert not {key.lower() for key in plain_text.COMMAND_KEYS} & set(KEY_VOICES)


def test_keys_become_commands_in_order():
    """Each key is its command, and any other key is handed on as itself."""
    found = plain_text.key_commands(" f-q")
    assert [(c.name, c.amount, c.text) for c in found] == [
        ("toggle", 0.0, ""),
        ("key", 0.0, "f"),
        ("tempo", -1.0, ""),
        ("quit", 0.0, ""),
    ]
    assert all(command.name in COMMAND_NAMES for command in found)


def test_a_pad_carries_when_it_was_pressed():
    """Strokes are stamped by the key's own time; commands need none."""
    pad, command = plain_text.key_commands("f ", 12.5)
    assert (pad.amount, command.amount) == (12.5, 0.0)


def test_the_pads_are_reported_where_keys_are_the_kit():
    """Who plays on the keys reads which is which; nobody else needs it."""
    assert len(plain_text.key_help_lines(pads=False)) == 1
    assert any("g h snare" in line for line in plain_text.key_help_lines(pads=True))
