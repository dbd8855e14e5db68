"""`trainer patterns` on a terminal: the browser and the composer, and playing what was chosen."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import console
from trainer.errors import BadInput
from trainer.pattern import library

if TYPE_CHECKING:
    import argparse


def options(actions: Any) -> None:
    """Add browsing and composing to the actions of `trainer patterns`."""
    browsing = actions.add_parser("browse", help="look through the patterns and choose one")
    browsing.add_argument("words", nargs="*", help="begin with those that have these words")
    browsing.set_defaults(act=browse)
    composing = actions.add_parser("compose", help="make a pattern in a form, drawn as you type")
    composing.add_argument("pattern", nargs="?", default="", help="one to begin from")
    composing.set_defaults(act=compose)
    for one in (browsing, composing):
        one.add_argument(
            "--port", default="", metavar="NAME", help="what the choice is played on, as in play"
        )


def browse(args: argparse.Namespace) -> int:
    """Browse until nothing more is chosen to be played."""
    _check_terminal()
    return _loop(args.port, words=args.words)


def compose(args: argparse.Namespace) -> int:
    """Open the composer, on a pattern or an empty one, with the browser behind it."""
    _check_terminal()
    name = library.find_pattern(args.pattern).stem if args.pattern else ""
    return _loop(args.port, at=name, composing=True)


def _loop(port: str, words: list[str] | None = None, at: str = "", composing: bool = False) -> int:
    from trainer.pattern.library import PatternFilter
    from trainer.screens.patterns import PatternsApp

    wanted = PatternFilter(tuple(words or ()))
    while True:
        app = PatternsApp(print_sheet, at=at, wanted=wanted, compose=composing)
        chosen = app.run()
        if not chosen:
            return app.return_code or 0
        at, wanted, composing = chosen[-1], app.patterns.wanted, False
        status = _play([*chosen[1:], *(["--port", port] if port else [])])
        if status:
            return status


def _play(words: list[str]) -> int:
    """Practise, as if it had been typed."""
    from trainer.commands import play

    parser = ArgumentParser(prog="trainer play")
    play.options(parser)
    return play.run(parser.parse_args(words))


def print_sheet(name: str, file: str) -> list[str]:
    """Print a pattern into a file and return what was written, in words."""
    from trainer.commands import sheet

    return [
        f"written: {path.absolute()}"
        for path in sheet.write([library.load_pattern(name)], Path(file))
    ]


def _check_terminal() -> None:
    if not console.has_screen():
        raise BadInput(
            "browsing needs a terminal", mend="trainer patterns list prints them as text"
        )
