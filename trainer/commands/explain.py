"""`trainer explain [WORD]`: what each number and word of a summary means, and what is clean."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trainer import console, settings
from trainer.show.glossary import YOURS, clean_lines, explanations

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

CLEAN = "clean"


def options(parser: ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "key",
        nargs="*",
        metavar="WORD",
        help="a word of a summary (lope), or a number as --json names it (offset.mean), or a part "
        "of that (unisons); all numbers when left out; or clean: what counts as clean, and why",
    )
    parser.add_argument("--json", action="store_true", help="write key and sentence as JSON")


def run(args: Namespace) -> int:
    """Print what a word or number means, or what counts as clean."""
    word = " ".join(args.key).rstrip(":.,") or None
    if word and word.casefold() == CLEAN:
        _print_clean(as_json=args.json)
        return 0
    found = explanations(word)
    if args.json:
        console.print_json(found)
        return 0
    for key, sentence in found.items():
        console.print_line(key)
        console.print_lines(
            textwrap.wrap(sentence, 76, initial_indent="    ", subsequent_indent="    ")
        )
    return 0


def _print_clean(*, as_json: bool) -> None:
    """Print what counts as clean: the grounds, and the figures of each level."""
    levels = settings.strictness_levels(YOURS)
    if as_json:
        console.print_json({name: level.to_dict() for name, level in levels.items()})
    else:
        console.print_lines(clean_lines(levels))
