"""`trainer explain [KEY]`: what each number of a reading means, and what counts as clean."""

from __future__ import annotations

import textwrap
from difflib import get_close_matches
from typing import TYPE_CHECKING

from trainer import report
from trainer.errors import BadInput
from trainer.measure.explain import EXPLAINED, explanation

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

CLEAN = "clean"


def options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "key",
        nargs="?",
        help="a number of a summary, as --json names it (offset.mean), or a part of it (unisons); "
        "all when left out; or clean: what counts as clean, and why",
    )
    parser.add_argument("--json", action="store_true", help="write key and sentence as JSON")


def run(args: argparse.Namespace) -> int:
    """Tell what the asked-for numbers mean."""
    if args.key == CLEAN:
        _explain_clean(args.json)
        return 0
    found = _found(args.key)
    if args.json:
        report.as_json(found)
        return 0
    for key, sentence in found.items():
        report.say(key)
        report.lines(textwrap.wrap(sentence, 76, initial_indent="    ", subsequent_indent="    "))
    return 0


def _explain_clean(as_json: bool) -> None:
    """Tell what counts as clean: the grounds, and the figures of each level."""
    from trainer.measure import clean

    levels = {name: level.to_dict() for name, level in clean.LEVELS.items()}
    if as_json:
        report.as_json(levels)
        return
    report.lines(clean_lines())


def clean_lines() -> Iterator[str]:
    """Yield what counts as clean: the grounds, then the figures of each level as a table."""
    from trainer.measure import clean

    levels = {name: level.to_dict() for name, level in clean.LEVELS.items()}
    yield (clean.__doc__ or "").replace("**", "").replace("`", "").strip()
    yield ""
    yield f"{'':<20}" + "".join(f"{name:>12}" for name in levels)
    figures = [name for name in levels[clean.DEFAULT.level] if name != "level"]
    for figure in figures:
        row = "".join(f"{level[figure]:>12g}" for level in levels.values())
        yield f"{figure:<20}{row}"


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
