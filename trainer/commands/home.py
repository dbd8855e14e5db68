"""`trainer` with no argument: the home screen, and every command from there.

The home screen only chooses; what was chosen runs as if it had been typed, and then home is back.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from trainer import report, settings
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.screens.home import Known

SCREENS = (
    *(["play"], ["ladder"], ["demo"], ["replay"]),
    *(["history"], ["patterns", "browse"], ["kit"]),
)
"""How commands with a screen of their own begin; after all others the player reads first."""


def loop(run: Callable[[list[str]], int]) -> int:
    """Show home and run what is chosen there, until the player leaves."""
    from trainer.screens.home import HomeApp

    source = None
    while True:
        app = HomeApp(look_around, source)
        chosen = app.run()
        source = app.picked
        if not chosen:
            return app.return_code or 0
        status = run(list(chosen))
        if status or not any(chosen[: len(one)] == one for one in SCREENS):
            report.say("")
            report.say("Press enter to go home.")
            with contextlib.suppress(EOFError):
                input()


def look_around() -> Known:
    """Return what is connected, what was played and what there is to play."""
    from trainer.archive.index import scan
    from trainer.pattern.files import catalogue
    from trainer.screens.home import Known

    ports: tuple[str, ...] = ()
    with contextlib.suppress(TrainerError):
        from trainer.midi import ports as midi_ports

        ports = tuple(port.label for port in midi_ports.inputs())
    folder = settings.recordings_folder(None)
    sessions = scan(folder).entries if folder.is_dir() else ()
    return Known(ports, tuple(catalogue()), sessions)
