"""`trainer routine` on a terminal: the overview, each block on its own screen, and the rests."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from trainer.commands import routine
from trainer.commands.steering import of_port
from trainer.practice.routine import FREE, RoutineProgress
from trainer.screens.routine import AGAIN, CONTINUE, RoutineSheet, rest_app, routine_app
from trainer.show.live_words import clock_text

if TYPE_CHECKING:
    from argparse import Namespace

    from trainer.archive.routines import RoutineProgressFile


def show(sitting: RoutineProgressFile, args: Namespace) -> int:
    """Show the routine and play its blocks as asked, until the player leaves."""
    if args.anew:
        sitting.keep(RoutineProgress())
    pads = of_port(args.port, args.pad_key)
    progress = routine.progress_of(sitting, args)
    while True:
        app = routine_app(sheet(sitting, progress), pads)
        chosen = app.run()
        if chosen is None:
            return app.return_code or 0
        if chosen == AGAIN:
            sitting.keep(RoutineProgress())
        done = routine.go_on(sitting, args, partial(_rest, sitting, args))
        blocks = len(sitting.routine.blocks)
        progress = RoutineProgress(blocks) if done else routine.progress_of(sitting, args)


def sheet(sitting: RoutineProgressFile, progress: RoutineProgress) -> RoutineSheet:
    """Return what is shown of a sitting."""
    one = sitting.routine
    told = tuple(routine.words(block, block.seconds) for block in one.blocks)
    left = large = ""
    if not progress.over(one):
        block, left_s = one.blocks[progress.block], progress.left(one)
        left = f"{clock_text(left_s)} left" if progress.seconds else ""
        large = f"{'free play' if block.kind == FREE else block.kind} {clock_text(left_s)}"
    title = f"{one.title}: {one.minutes:g} minutes"
    return RoutineSheet(title, told, routine.remarks(one), progress.block, left, large)


def _rest(sitting: RoutineProgressFile, args: Namespace, seconds: float, fast: bool) -> bool:
    """Rest on the screen; return True where the routine goes on."""
    if fast:
        return True
    after = routine.after(sitting.routine, sitting.progress().block)
    return rest_app(seconds, after, of_port(args.port, args.pad_key)).run() == CONTINUE
