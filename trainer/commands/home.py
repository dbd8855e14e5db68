"""`trainer` with no argument: the home screen, and every command from there.

The home screen only chooses; what was chosen runs as if it had been typed, and then home is back.
"""

from __future__ import annotations

import contextlib
from functools import partial
from typing import TYPE_CHECKING

from trainer import console, settings

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.midi.connection import PortWatch
    from trainer.screens.home import Known

SCREENS = (
    *(["play"], ["ladder"], ["demo"], ["replay"], ["routine"]),
    *(["history"], ["patterns", "browse"], ["kit"]),
)
"""How commands with a screen of their own begin; after all others the player reads first."""


def loop(run: Callable[[list[str]], int]) -> int:
    """Show home and run what is chosen there, until the player leaves."""
    from trainer.commands.chosen import request_words
    from trainer.commands.steering import of_port
    from trainer.midi.connection import PortWatch
    from trainer.screens.home import HomeApp
    from trainer.screens.pages import page_of

    source, opens = None, ""
    while True:
        watch = PortWatch()
        look = partial(look_around, watch)
        app = HomeApp(
            look, source, ports=watch.look, page_of=page_of, steering=of_port, opens=opens
        )
        try:
            chosen = app.run()
        finally:
            watch.close()  # what is chosen opens clients of its own
        source, opens = app.picked, app.opened
        if not chosen:
            return app.return_code or 0
        if not isinstance(chosen, list):
            chosen = request_words(chosen)
        status = run(chosen)
        if status or not any(chosen[: len(one)] == one for one in SCREENS):
            console.print_line("")
            console.print_line("Press enter to go home.")
            with contextlib.suppress(EOFError):
                input()


def look_around(watch: PortWatch) -> Known:
    """Return what is connected, what was played and what there is to play."""
    from trainer.archive.session_list import list_sessions
    from trainer.pattern.library import catalogue
    from trainer.screens.home import Known

    folder = settings.recordings_folder(None)
    sessions = list_sessions(folder).entries if folder.is_dir() else ()
    return Known(watch.look(), tuple(catalogue()), sessions)
