"""The keys of a session in lines of text."""

from trainer.midi.keys import PADS
from trainer.practice.events import COMMANDS
from trainer.screens import plain_keys


def test_pads_and_commands_share_no_key():
    """No key is both a pad and a command, in either case of the letter."""
    assert not {key.lower() for key in plain_keys.KEYS} & set(PADS)


def test_keys_become_commands_in_order():
    """Each key is its command, and any other key is handed on as itself."""
    found = plain_keys.commands(" f-q")
    assert [(c.name, c.amount, c.text) for c in found] == [
        ("toggle", 0.0, ""),
        ("key", 0.0, "f"),
        ("tempo", -1.0, ""),
        ("quit", 0.0, ""),
    ]
    assert all(command.name in COMMANDS for command in found)


def test_a_pad_carries_when_it_was_pressed():
    """Strokes are stamped by the key's own time; commands need none."""
    pad, command = plain_keys.commands("f ", 12.5)
    assert (pad.amount, command.amount) == (12.5, 0.0)


def test_the_pads_are_told_where_keys_are_the_kit():
    """Who plays on the keys reads which is which; nobody else needs it."""
    assert len(plain_keys.help_lines(pads=False)) == 1
    assert "snare" in plain_keys.help_lines(pads=True)[1]
