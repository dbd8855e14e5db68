"""The app on one screen, as a command opens it; what is to be played is only remembered."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.screens.trainer_app import TrainerApp

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.actions.requests import Request


class Opened(TrainerApp):
    """The app that opens a screen and ends once that is left; `asked` was to be played."""

    def __init__(self, screen: Screen[Any]) -> None:
        super().__init__(screen)
        self.asked: list[Request] = []

    def play(self, request: Request) -> None:
        self.asked.append(request)
