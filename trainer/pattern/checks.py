"""Readers of single entries that only pattern files have: stickings, tags, tempos, meters."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.pattern import spelling
from trainer.pattern.model import Meter
from trainer.pattern.wrong import Wrong
from trainer.toml_file import shown, text

if TYPE_CHECKING:
    from collections.abc import Callable
    from fractions import Fraction

MIN_TEMPO, MAX_TEMPO = 20.0, 400.0
UNITS = (1, 2, 4, 8, 16, 32)


def spelled(reader: Callable[[str], Any]) -> Callable[[Any], Any]:
    """Return a reader of long texts; a list of texts is joined by blanks."""

    def read(value: Any) -> Any:
        if isinstance(value, list) and all(isinstance(item, (str, int)) for item in value):
            value = " ".join(map(str, value))
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        if not isinstance(value, str):
            raise BadInput("is not a text", mend="put it in quotes")
        return reader(value)

    return read


def tags(value: Any) -> tuple[str, ...]:
    """Return tags from a list of texts or one text with blanks."""
    words = value.split() if isinstance(value, str) else value
    if not isinstance(words, list):
        raise BadInput("is not a list of tags", mend='write ["orders", "singles"]')
    return tuple(text(word) for word in words)


def tempo(value: Any) -> float:
    """Return a tempo in BPM."""
    if (
        isinstance(value, bool)
        or not isinstance(value, (int, float))
        or not MIN_TEMPO <= value <= MAX_TEMPO
        or math.isnan(value)
    ):
        raise BadInput(
            f"{shown(value)} is not a tempo from {MIN_TEMPO:g} to {MAX_TEMPO:g} BPM",
            mend="write a number in that range",
        )
    return float(value)


def tempo_unit(value: Any) -> Fraction:
    """Return the length in quarter notes of the note value that BPM counts."""
    return spelling.value(str(value)).length


def meters(value: Any) -> tuple[Meter, ...]:
    """Return meters from `4/4` or a list of them that goes round bar by bar."""
    words = value.split() if isinstance(value, str) else value
    if not isinstance(words, list) or not 1 <= len(words) <= 64:
        raise BadInput(f"{shown(value)} is not a meter", mend='write "4/4" or ["4/4", "7/8"]')
    wrong = Wrong("meter")
    found = []
    for at, word in enumerate(words):
        wrong.count(at)
        found.append(wrong.reading(partial(_meter, word), at))
    wrong.tell()
    return tuple(meter for meter in found if meter)


def order_count(value: Any) -> int:
    """Return 0 for "all", else how many orders are drawn."""
    if value == "all":
        return 0
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 10_000:
        raise BadInput(
            f"{shown(value)} is not a choice of orders",
            mend='write "all" or a number from 1 to 10000',
        )
    return value


def _meter(given: Any) -> Meter:
    word = shown(given)
    beats, _, unit = word.partition("/")
    if len(word) <= 6 and word.isascii() and beats.isdecimal() and unit.isdecimal():
        meter = Meter(int(beats), int(unit))
        if 1 <= meter.beats <= 64 and meter.unit in UNITS:
            return meter
    raise BadInput(
        f"{word} is not a meter",
        mend=f"write 1 to 64 over one of {', '.join(map(str, UNITS))}, such as 7/8",
    )
