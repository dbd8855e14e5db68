"""`trainer explain [KEY]`: what each number of a reading means."""

from __future__ import annotations

import textwrap
from difflib import get_close_matches
from typing import TYPE_CHECKING

from trainer import report
from trainer.errors import BadInput
from trainer.measure.explain import EXPLAINED, explanation

if TYPE_CHECKING:
    import argparse


def options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "key",
        nargs="?",
        help="a number of a summary, as --json names it (offset.mean), or a part of it (unisons); "
        "all when left out",
    )
    parser.add_argument("--json", action="store_true", help="write key and sentence as JSON")


def run(args: argparse.Namespace) -> int:
    """Tell what the asked-for numbers mean."""
    found = _found(args.key)
    if args.json:
        report.as_json(found)
        return 0
    for key, sentence in found.items():
        report.say(key)
        report.lines(textwrap.wrap(sentence, 76, initial_indent="    ", subsequent_indent="    "))
    return 0


def _found(key: str | None) -> dict[str, str]:
    """Return the sentences for one number, for all numbers of a part, or for everything."""
    if key is None:
        return EXPLAINED
    below = {known: text for known, text in EXPLAINED.items() if known.startswith(f"{key}.")}
    if below:
        return below
    sentence = explanation(key)
    if sentence is None:
        near = get_close_matches(key, EXPLAINED, 1, 0.5)
        raise BadInput(
            f'a reading has no number called "{key}"',
            mend=f'did you mean "{near[0]}"' if near else "trainer explain lists them all",
        )
    return {key: sentence}
