"""Following a session in lines of text."""

import os
import pty
import sys

import pytest

from trainer.commands.following import keys_can_be_read


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo terminal")
def test_a_terminal_of_somebody_else_is_not_read(monkeypatch):
    """Keys are not read from a terminal that does not control the program, and nothing fails."""
    ours, theirs = pty.openpty()
    with os.fdopen(theirs) as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        assert not keys_can_be_read()
    os.close(ours)
