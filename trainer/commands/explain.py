"""`trainer explain [WORD]`: the words of the screens, the keys of JSON, what counts as clean."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trainer import console, settings
from trainer.errors import BadInput
from trainer.show.explanations import (
    USUAL_TEMPO,
    USUAL_VALUE,
    YOURS,
    clean_lines,
    explanations,
    glossary_lines,
    word_lines,
)

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace
    from collections.abc import Iterable

    from trainer.measure.clean import Tolerance

CLEAN = "clean"
WIDTH = 79


def options(parser: ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "key",
        nargs="*",
        metavar="WORD",
        help="a word from a screen (limp), or clean: the limits in ms, and why. All words when "
        "left out",
    )
    parser.add_argument(
        "--keys", action="store_true", help="keys of JSON instead: all, a part (offset), or one"
    )
    parser.add_argument(
        "--tempo", type=float, metavar="BPM", help="clean: at this tempo (default: 100)"
    )
    parser.add_argument("--value", metavar="V", help="clean: in this note value (default: 16)")
    parser.add_argument(
        "--strict", metavar="LEVEL", help="clean: only this level (loose, solid or tight)"
    )
    parser.add_argument("--json", action="store_true", help="words and keys as JSON")


def run(args: Namespace) -> int:
    """Print what a word or key means, or what counts as clean."""
    word = " ".join(args.key).rstrip(":.,") or None
    if word and word.casefold() == CLEAN and not args.keys:
        _print_clean(args)
        return 0
    found = explanations(word, keys=args.keys)
    if args.json:
        console.print_json(found)
    elif word is None and not args.keys:
        console.print_lines(_wrapped(glossary_lines(), " " * 23))
    elif word and not args.keys and (lines := [*word_lines(word)]):
        console.print_lines(_wrapped(lines, "  "))
    else:
        for key, sentence in found.items():
            console.print_line(key)
            console.print_lines(_wrapped([f"    {sentence}"], "    "))
    return 0


def _wrapped(lines: Iterable[str], indent: str) -> list[str]:
    """Return lines broken at `WIDTH` columns, all but the first of each indented."""
    return [part for line in lines for part in textwrap.wrap(line, WIDTH, subsequent_indent=indent)]


def _print_clean(args: Namespace) -> None:
    """Print what counts as clean: in ms at a tempo, the grounds, and the figures of each level."""
    levels = _levels(args.strict)
    if args.json:
        console.print_json({name: level.to_dict() for name, level in levels.items()})
        return
    tempo = USUAL_TEMPO if args.tempo is None else args.tempo
    for line in clean_lines(levels, tempo, args.value or USUAL_VALUE):
        console.print_lines(
            [line]
            if line.startswith(" ")
            else _wrapped([line], "  " * line.startswith("- ")) or [""]
        )


def _levels(only: str | None) -> dict[str, Tolerance]:
    """Return the levels, with the player's own figures among them, or one of these alone."""
    from trainer.measure.clean import level_name

    levels = settings.strictness_levels(YOURS)
    if only is None:
        return levels
    if level_name(only) not in levels:
        raise BadInput(
            f'there is no level "{only[:20]}"',
            where="--strict",
            fix=f"choose {', '.join(levels)}",
        )
    return {level_name(only): levels[level_name(only)]}
