"""`trainer routine`: several blocks as one practice, to be stopped and continued later."""

from __future__ import annotations

from argparse import SUPPRESS, RawDescriptionHelpFormatter
from textwrap import indent
from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.requests import RoutineRequest
from trainer.archive.routines import example_routine, find_routine, load_routine
from trainer.commands import play_options
from trainer.show import session_words

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add the options of a routine, and an example of its file."""
    parser.formatter_class = RawDescriptionHelpFormatter
    example = example_routine("Between two shows", "single-stroke-roll")
    parser.epilog = f"a routine file, to copy and change:\n\n{indent(example, '  ')}"
    add = parser.add_argument
    add("file", metavar="FILE", help="a routine file (TOML), or the name of one in your folder")
    add("--again", action="store_true", help="start at the first block again")
    add("--anew", dest="again", action="store_true", help=SUPPRESS)  # what it was called
    add("--check", action="store_true", help="only print the blocks")
    play_options.add_kit_options(parser)
    play_options.add_session_options(parser)
    play_options.add_click_options(parser)


def run(args: Namespace) -> int:
    """Go through the blocks from where the routine was stopped."""
    if args.check:
        console.print_words(session_words.overview(load_routine(find_routine(args.file))))
        return 0
    text = play_options.text_of(args)
    request = RoutineRequest(args.file, args.again, play_options.setup_of(args))
    if not text.wanted:
        from trainer.commands import on_screen

        return on_screen.play(request)
    from trainer.actions.routine import RoutineRun
    from trainer.commands import play_as_text

    going = RoutineRun(request)
    console.print_words(session_words.overview(going.routine))
    console.print_lines(map(session_words.namesake_words, going.namesakes))
    play_as_text.play_routine(going, text)
    return 0
