"""The keys of a session in lines of text."""

import io
import sys

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


def test_without_a_terminal_nothing_is_read_or_told(monkeypatch):
    """Where standard input is a file, no keys are read and no help is printed."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("q"))
    with plain_keys.listening() as keyboard:
        assert keyboard is None
    assert plain_keys.help_lines(True) == []
