"""`trainer routine`: several blocks as one practice, to be stopped and continued later."""

from __future__ import annotations

from argparse import RawDescriptionHelpFormatter
from functools import partial
from textwrap import indent
from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.requests import RoutineRequest
from trainer.archive.routines import example_routine, find_routine, load_routine
from trainer.commands import play_options
from trainer.practice.routine import REST, RoutineProgress
from trainer.show import routine_words
from trainer.show.session_words import recovered_words

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.actions.routine import RoutineRun
    from trainer.commands.play_options import TextOptions


def options(parser: ArgumentParser) -> None:
    """Add the options of a routine, and an example of its file."""
    parser.formatter_class = RawDescriptionHelpFormatter
    example = example_routine("Between two shows", "single-stroke-roll")
    parser.epilog = f"a routine file, to copy and change:\n\n{indent(example, '  ')}"
    add = parser.add_argument
    add("file", metavar="FILE", help="a routine file (TOML), or the name of one in your folder")
    add(
        *("--again", "--anew"),
        action="store_true",
        help="begin at the first block, whatever was done before",
    )
    add("--check", action="store_true", help="only print the blocks")
    play_options.add_kit_options(parser)
    play_options.add_session_options(parser)
    play_options.add_click_options(parser)


def run(args: Namespace) -> int:
    """Go through the blocks from where the routine was stopped."""
    if args.check:
        console.print_lines(routine_words.overview(load_routine(find_routine(args.file))))
        return 0
    text = play_options.text_of(args)
    request = RoutineRequest(args.file, args.again, play_options.setup_of(args))
    if not text.wanted:
        from trainer.commands import on_screen

        return on_screen.play(request)
    from trainer.actions.routine import RoutineRun

    going = RoutineRun(request)
    console.print_lines(routine_words.overview(going.routine))
    continue_as_text(going, text)
    return 0


def continue_as_text(going: RoutineRun, text: TextOptions) -> None:
    """Play the blocks from where the routine is, and say at the end how far it came."""
    console.print_lines(map(recovered_words, going.finish_cut_off()))
    progress = going.progress()
    if progress != RoutineProgress():
        console.print_line(f"Continuing with block {progress.block + 1}.")
    while not progress.over(going.routine):
        if not _play_block(going, progress, text):
            going.stop()
            console.print_line(routine_words.STOPPED)
            return
        going.end(progress)
        progress = progress.after()
    console.print_line(routine_words.DONE)


def _play_block(going: RoutineRun, progress: RoutineProgress, text: TextOptions) -> bool:
    """Play what is left of the next block; return True where it came to its end."""
    from trainer.commands import play_as_text

    routine, left_s = going.routine, progress.left(going.routine)
    block = routine.blocks[progress.block]
    going.begin(progress)
    words = routine_words.block_words(block, left_s)
    console.print_line(f"Block {progress.block + 1} of {len(routine.blocks)}: {words}")
    if block.kind == REST:
        return play_as_text.rest(left_s, going.setup.played_on.fast)
    practice = going.practice(progress, play_as_text.waiting_for_kit(text))
    frame = routine_words.block_frame(routine, progress)
    finished = play_as_text.play(practice, text, frame, partial(going.session_ended, progress))
    return finished is not None and not finished.stopped
