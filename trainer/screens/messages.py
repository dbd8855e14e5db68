"""What the screens tell the app that holds them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.message import Message

if TYPE_CHECKING:
    from trainer.practice.events import Command


class Asked(Message):
    """The player asks for something that only the practice loop can do."""

    def __init__(self, command: Command) -> None:
        super().__init__()
        self.command = command


class CellChosen(Message):
    """The player's cursor stands on another cell of the hit map."""


class SessionChosen(Message):
    """The player's cursor stands on another session of the list."""


class PadStruck(Message):
    """A pad that is a key was struck while nothing is played; `command` is what it stands for."""

    def __init__(self, command: str) -> None:
        super().__init__()
        self.command = command
