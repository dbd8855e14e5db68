"""`trainer explain [WORD]`: what each number and word of a summary means, and what is clean."""

from __future__ import annotations

import textwrap
from difflib import get_close_matches
from typing import TYPE_CHECKING

from trainer import console
from trainer.errors import BadInput
from trainer.show.glossary import GLOSSARY, glossary_entry
from trainer.show.reading_keys import KEY_EXPLANATIONS, key_explanation

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator

    from trainer.measure.clean import Tolerance

CLEAN, YOURS = "clean", "yours"


def options(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "key",
        nargs="*",
        metavar="WORD",
        help="a word of a summary (lope), or a number as --json names it (offset.mean), or a part "
        "of that (unisons); all numbers when left out; or clean: what counts as clean, and why",
    )
    parser.add_argument("--json", action="store_true", help="write key and sentence as JSON")


def run(args: argparse.Namespace) -> int:
    """Tell what the asked-for numbers mean."""
    asked = " ".join(args.key).rstrip(":.,") or None
    if asked and asked.casefold() == CLEAN:
        _explain_clean(args.json)
        return 0
    found = _found(asked)
    if args.json:
        console.print_json(found)
        return 0
    for key, sentence in found.items():
        console.print_line(key)
        console.print_lines(
            textwrap.wrap(sentence, 76, initial_indent="    ", subsequent_indent="    ")
        )
    return 0


def _explain_clean(as_json: bool) -> None:
    """Tell what counts as clean: the grounds, and the figures of each level."""
    if as_json:
        console.print_json({name: level.to_dict() for name, level in _levels().items()})
        return
    console.print_lines(clean_lines())


def _levels() -> dict[str, Tolerance]:
    """Return the levels by name; where the settings change single figures, with those as `yours`.

    Settings that cannot be read are no reason not to explain: they are told where they are used.
    """
    from trainer import settings
    from trainer.measure import clean

    try:
        own = settings.load().clean
    except BadInput:
        own = None
    levels: dict[str, Tolerance] = dict(clean.STRICTNESS_LEVELS)
    return levels if own is None or own in levels.values() else {**levels, YOURS: own}


def clean_lines() -> Iterator[str]:
    """Yield what counts as clean: the grounds, then the figures of each level as a table."""
    from trainer.measure import clean

    levels = {name: level.to_dict() for name, level in _levels().items()}
    yield (clean.__doc__ or "").replace("**", "").replace("`", "").strip()
    if YOURS in levels:
        yield ""
        yield f"Yours is the level {levels[YOURS]['level']} with the figures of your settings."
    yield ""
    yield f"{'':<20}" + "".join(f"{name:>12}" for name in levels)
    figures = [name for name in levels[clean.DEFAULT_TOLERANCE.level] if name != "level"]
    for figure in figures:
        row = "".join(f"{level[figure]:>12g}" for level in levels.values())
        yield f"{figure:<20}{row}"


def _found(asked: str | None) -> dict[str, str]:
    """Return the sentences for one number, a part, a printed word, or for everything."""
    if asked is None:
        return KEY_EXPLANATIONS
    key = asked.casefold()
    below = {known: text for known, text in KEY_EXPLANATIONS.items() if known.startswith(f"{key}.")}
    word = glossary_entry(asked)
    if word is not None:
        return {key: word.sentence, **_told_from(word.keys), **below}
    if below:
        return below
    sentence = key_explanation(asked)
    if sentence is not None:
        return {asked: sentence}
    parts = {known: text for known, text in KEY_EXPLANATIONS.items() if key in known.split(".")}
    if not parts:
        near = get_close_matches(key, [*KEY_EXPLANATIONS, *GLOSSARY], 1, 0.5)
        raise BadInput(
            f'a summary has no word and no number called "{asked}"',
            mend=f'did you mean "{near[0]}"' if near else "trainer explain lists the numbers",
        )
    return parts


def _told_from(keys: tuple[str, ...]) -> dict[str, str]:
    """Return the sentences of the numbers that a printed word is told from."""
    return {
        known: text
        for key in keys
        for known, text in KEY_EXPLANATIONS.items()
        if known == key or known.startswith(f"{key}.")
    }
