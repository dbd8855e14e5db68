"""What `trainer explain` shows: words of the glossary, numbers by key, and what counts as clean.

What is clean comes first in milliseconds, at a tempo and note value of the player's choice, then
with its grounds, then as the figures that settings may change.
"""

from __future__ import annotations

import math
from difflib import get_close_matches
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.measure import clean
from trainer.measure.threshold import just_noticeable_ms
from trainer.pattern.description import value_words
from trainer.pattern.model import NOTE_VALUES, USUAL_VALUES
from trainer.show.glossary import GLOSSARY, glossary_word
from trainer.show.grounds import GROUNDS
from trainer.show.reading_keys import KEY_EXPLANATIONS, key_explanation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from trainer.measure.clean import Tolerance

YOURS = "yours"
"""The column of the player's own figures beside the levels."""

USUAL_TEMPO, USUAL_VALUE = 100.0, "16"
"""Where limits are shown unless the player chooses another tempo and note value."""

WORD_COLUMNS = 22


def explanations(asked: str | None, *, keys: bool = False) -> dict[str, str]:
    """Return sentences by word or key: for a word with its numbers, a number, a part, or for all.

    `keys` leaves out the words. Raises BadInput for what is neither.
    """
    if asked is None:
        words = {} if keys else {word: _sentences(word) for word in GLOSSARY}
        return words | {key: text for key, text in KEY_EXPLANATIONS.items() if key not in words}
    key = asked.casefold()
    below = {known: text for known, text in KEY_EXPLANATIONS.items() if known.startswith(f"{key}.")}
    word = None if keys else glossary_word(asked)
    if word is not None:
        return {word: _sentences(word), **_numbers_of(GLOSSARY[word].keys), **below}
    sentence = key_explanation(asked)
    if not below and sentence is not None:
        return {asked: sentence}
    found = below or {
        known: text for known, text in KEY_EXPLANATIONS.items() if key in known.split(".")
    }
    if not found:
        raise _unknown(asked)
    return found


def _sentences(word: str) -> str:
    """Return all that is said of a word of the glossary as one text."""
    ground = GROUNDS.get(word)
    return " ".join([GLOSSARY[word].sentence, *(ground.lines() if ground else ())])


def _unknown(asked: str) -> BadInput:
    near = get_close_matches(asked.casefold(), [*KEY_EXPLANATIONS, *GLOSSARY], 1, 0.5)
    return BadInput(
        f'there is no word and no number called "{asked}"',
        fix=f'did you mean "{near[0]}"?' if near else "trainer explain lists the words",
    )


def _numbers_of(keys: tuple[str, ...]) -> dict[str, str]:
    """Return the sentences of a printed word's numbers."""
    return {
        known: text
        for key in keys
        for known, text in KEY_EXPLANATIONS.items()
        if known == key or known.startswith(f"{key}.")
    }


def glossary_lines() -> Iterator[str]:
    """Yield every word with the first sentence about it."""
    for word, entry in GLOSSARY.items():
        yield f"{word:<{WORD_COLUMNS}} {entry.what.split('. ')[0].rstrip('.')}."


def word_lines(asked: str) -> Iterator[str]:
    """Yield one word: what it is, what is normal, what to do, its ground, and its numbers.

    Nothing for a word that the glossary lacks.
    """
    word = glossary_word(asked)
    if word is None:
        return
    entry = GLOSSARY[word]
    yield f"{word}: {entry.what}"
    for head, text in (("Normal", entry.normal), ("To do", entry.do)):
        if text:
            yield f"{head}: {text}"
    if word in GROUNDS:
        yield from GROUNDS[word].lines()
    if entry.keys:
        yield f"Numbers: trainer explain --keys {entry.keys[0].removesuffix('.*')}"


def limit_lines(
    levels: Mapping[str, Tolerance], tempo: float = USUAL_TEMPO, value: str = USUAL_VALUE
) -> Iterator[str]:
    """Yield the limits of each level in ms at a tempo (quarters a minute) and note value.

    Raises BadInput for an unknown note value and a tempo that is not above 0.
    """
    if value not in NOTE_VALUES:
        raise BadInput(
            f'there is no note value "{value[:20]}"',
            where="--value",
            fix=f"choose {', '.join(USUAL_VALUES)}",
        )
    if not 0 < tempo < math.inf:
        raise BadInput(f"{tempo:g} is not a tempo", where="--tempo", fix="choose 20 to 400")
    apart_ms = 60_000.0 / tempo * float(NOTE_VALUES[value].length)
    heard_ms = just_noticeable_ms(min(apart_ms, clean.LONGEST_INTERVAL_MS))
    yield f"Clean at {tempo:g} BPM in {value_words(value)} ({apart_ms:.0f} ms apart):"
    yield _row("", list(levels))
    rows = (
        ("spread, ms", [one.spread_times * heard_ms for one in levels.values()]),
        (
            "intervals vary by, ms",
            [one.evenness_times * math.sqrt(2) * heard_ms for one in levels.values()],
        ),
        ("unisons apart, ms", [one.gap_ms for one in levels.values()]),
        ("equal strokes vary by", [one.power_steps for one in levels.values()]),
        ("missed in 1000", [10 * one.missed_percent for one in levels.values()]),
        ("wrong pads in 1000", [10 * one.wrong_pad_percent for one in levels.values()]),
        ("strays in 1000", [10 * one.stray_percent for one in levels.values()]),
        ("rims in 1000", [10 * one.rim_percent for one in levels.values()]),
    )
    yield from (_row(name, [f"{one:.3g}" for one in figures]) for name, figures in rows)
    yield "A rung of few strokes gets some room on top, for chance."


def _row(name: str, cells: list[str]) -> str:
    return f"  {name:<{WORD_COLUMNS}}" + "".join(f"{one:>10}" for one in cells)


def ground_paragraphs() -> Iterator[str]:
    """Yield why each limit is what it is: a paragraph or list item each; an example as it is."""
    for block in (clean.__doc__ or "").replace("**", "").replace("`", "").split("\n\n"):
        if block.startswith("    "):
            yield block.rstrip()
        else:
            items = " ".join(block.split()).split(" - ")
            yield items[0]
            yield from (f"- {one}" for one in items[1:])


def figure_lines(levels: Mapping[str, Tolerance]) -> Iterator[str]:
    """Yield the figures of each level by their names in the settings."""
    figures = {name: level.to_dict() for name, level in levels.items()}
    if YOURS in figures:
        yield f"Yours is the level {figures[YOURS]['level']} with the figures of your settings."
    yield _row("", list(figures))
    for key in figures[next(iter(figures))]:
        if key != "level":
            yield _row(key, [f"{level[key]:g}" for level in figures.values()])


def clean_lines(
    levels: Mapping[str, Tolerance], tempo: float = USUAL_TEMPO, value: str = USUAL_VALUE
) -> Iterator[str]:
    """Yield what counts as clean: in ms, then the grounds, then the figures of the settings."""
    yield from limit_lines(levels, tempo, value)
    for paragraph in ground_paragraphs():
        yield ""
        yield paragraph
    yield ""
    yield from figure_lines(levels)
