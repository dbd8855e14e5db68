"""`trainer kit` on a terminal: the page of each kit, and learning and watching on the screen.

Ports are opened before anything is drawn, so that a wrong one is told in words.
"""

from __future__ import annotations

from argparse import ArgumentParser
from contextlib import suppress
from typing import TYPE_CHECKING

from trainer import console, settings
from trainer.commands.kit_hearing import keep
from trainer.errors import TrainerError
from trainer.kit import kits
from trainer.kit.learning import Learning
from trainer.midi.kit_input import KitMonitor, MidiSource

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable


def show(run: Callable[[Namespace], int], options: Callable[[ArgumentParser], None]) -> int:
    """Show the kits, and do what is chosen there as if it had been typed, until the player leaves.

    What cannot be done, such as a port that is not there, is told before the kits are back.
    """
    from trainer.commands.pages.kit import pages
    from trainer.screens.kit import KitsApp

    parser = ArgumentParser(prog="trainer kit")
    options(parser)
    chosen = settings.load().kit or ""
    while words := (app := KitsApp(chosen, pages)).run():
        chosen = words[2] if len(words) > 2 else chosen
        try:
            run(parser.parse_args(words[1:]))
        except TrainerError as fault:
            console.print_error(fault)
        if words[1] != "watch":
            _wait()
    return app.return_code or 0


def learn(args: Namespace) -> int:
    """Learn on the screen; what was learned is saved however it ends."""
    from trainer.screens.kit import learn_app

    kits.check_name(args.name)
    ear = KitMonitor(MidiSource(args.port))
    learning = Learning(args.name, ear.name, known=kits.own_kit(args.name))
    try:
        learn_app(ear, learning).run()
    finally:
        ear.close()
        status = keep(learning)
    return status


def watch(args: Namespace) -> int:
    """Watch on the screen until the player leaves, or for so many seconds."""
    from trainer.screens.kit import watch_app

    ear = KitMonitor(MidiSource(args.port))
    kit = kits.load(args.kit) if args.kit else kits.kit_for_port(ear.name)
    try:
        watch_app(ear, kit, args.seconds).run()
    finally:
        ear.close()
    return 0


def _wait() -> None:
    console.print_line("")
    console.print_line("Press enter to go on.")
    with suppress(EOFError):
        input()
