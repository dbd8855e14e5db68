"""What may be chosen for each part of a pattern, with words beside it. Anything else can be typed.

The lists hold what is asked for most (our own choice); note values and ostinatos are complete.
"""

from __future__ import annotations

from trainer.measure.terms import value_words
from trainer.pattern.ostinatos import OSTINATOS
from trainer.pattern.rows import LEADERS
from trainer.pattern.tables import NOTE_VALUES

Choice = tuple[str, str]
"""What is written, and what it means."""

_VALUES = tuple((name, value_words(name)) for name in NOTE_VALUES)
_CLIMBS = (
    ("8 8t 16 16t 32", "a climb, one value a bar"),
    ("4 8 8t 16 16t 32", "a climb from quarters"),
    ("16 16q 16t 16s 32", "four to eight strokes a beat"),
)
_GRIDS = tuple((f"same as {leader}", f"goes along with the {leader}") for leader in LEADERS)

CHOICES: dict[str, tuple[Choice, ...]] = {
    "sticking": (
        ("R L", "single strokes"),
        ("R R L L", "double strokes"),
        ("R L R R L R L L", "single paradiddle"),
        ("R L R L R R L R L R L L", "double paradiddle"),
        ("R L R R L L R L R R L L", "paradiddle-diddle"),
        (">R L L >R L L R L", "three, three, two"),
        (">R L R >L R L", "accents by threes"),
        ("lR rL", "flams"),
        ("llR rrL", "drags"),
        ("R L K", "hands and kick, by threes"),
        ("R L R K", "hands and kick, by fours"),
        ("B", "both hands together"),
    ),
    "value": (*_CLIMBS, *_VALUES),
    "back": (("true", "the climb comes down again"),),
    "rhythm": (("16*4 4", "four sixteenths, a quarter"), ("8 16*2", "an eighth, two sixteenths")),
    "path": (
        ("snare", "one drum"),
        ("snare*4 tom1*4 floor*4", "four strokes on each of three drums"),
        ("snare*4 tom1*4 tom2*4 floor*4", "four on each of four drums"),
        ("snare tom1 tom2 floor", "one stroke on each of four drums"),
        ("hihat*3 snare", "hi-hat and snare"),
        ("ride*4 snare*4", "ride and snare"),
        ("hihat+snare", "right hand on the hi-hat, left on the snare"),
        ("snare floor", "snare and floor tom"),
    ),
    "per": (
        ("stroke", "each stroke goes on"),
        ("beat", "each beat goes on"),
        ("bar", "each bar goes on"),
    ),
    "orders": (("all", "every order of the path's parts"), ("4", "four orders, drawn by seed")),
    "lead": (
        ("right", "as written"),
        ("left", "hands exchanged"),
        ("both", "as written, then exchanged"),
    ),
    "feet": tuple((one.name, one.title) for one in OSTINATOS.values()),
    "feet-value": _VALUES,
    "kick": (("x---", "the first of four steps"), *_GRIDS),
    "kick2": (("--x-", "the third of four steps"), *_GRIDS),
    "pedal": (("--x-", "the third of four steps"), *_GRIDS),
    "meter": (
        *((f"{beats}/4", "") for beats in (4, 3, 2, 5, 7)),
        *((f"{beats}/8", "") for beats in (3, 5, 6, 7, 9, 12)),
        ("4/4 3/4", "in turn"),
        ("4/4 7/8", "in turn"),
    ),
    "level": tuple((str(level), "") for level in range(1, 6)),
    "tempo-unit": _VALUES,
}
