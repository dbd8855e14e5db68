"""The title of a changed pattern, as a drummer says it: `Flam tap at 80, over samba feet`.

Each change has its words here; one that nobody would say in a title (a seed, a tag) has none. The
exact spelling is in the pattern's name.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.pattern.description import value_words
from trainer.pattern.model import NOTE_VALUES

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


def changed_title(title: str, changes: Mapping[str, str]) -> str:
    """Return a title with what was changed: the tempo first, then the rest after commas."""
    words = {key: _WORDS[key](text.strip()) for key, text in changes.items() if key in _WORDS}
    tempo = words.pop("tempo", "")
    rest = [text for text in words.values() if text]
    return ", ".join([f"{title} {tempo}".rstrip(), *rest])


def _tempo(text: str) -> str:
    start, _, end = text.partition(" to ")
    return f"from {start} to {end}" if end else f"at {text}"


def _meter(text: str) -> str:
    return f"in {' and '.join(text.replace(',', ' ').split())}" if "+" not in text else f"in {text}"


def _values(text: str) -> str:
    names = [name for name in re.split(r"[,\s]+", text) if name in NOTE_VALUES]
    found = list(dict.fromkeys(value_words(name) for name in names))
    return f"in {_listed(found)}" if found else ""


def _path(text: str) -> str:
    found = dict.fromkeys(_drum(place) for place in re.findall(r"[a-z0-9]+(?:/[a-z-]+)?", text))
    drums = [drum for drum in found if drum]
    return f"on {_listed(drums)}" if drums else ""


def _drum(place: str) -> str:
    voice, _, zone = place.partition("/")
    if voice not in VOICES:
        return ""
    return f"{VOICES[voice].title} {zone}".rstrip()


def _orders(text: str) -> str:
    return "in every order" if text == "all" else f"in {text} orders"


def _lead(text: str) -> str:
    return "right and left lead" if text == "both" else f"{text} lead"


def _feet(text: str) -> str:
    return "without feet" if text == "none" else f"over {text.replace('-', ' ')} feet"


def _counted(one: str, many: str) -> Callable[[str], str]:
    """Return what says a number of something."""
    return lambda text: f"1 {one}" if text == "1" else f"{text} {many}"


def _own(what: str) -> Callable[[str], str]:
    """Return what says that a foot has a line of its own."""
    return lambda text: (
        f"{what} with the {text[8:]}" if text.startswith("same as ") else f"own {what}"
    )


def _shifted(what: str) -> Callable[[str], str]:
    """Return what says that something is moved later."""
    return lambda text: f"{what} {text} step{'' if text == '1' else 's'} later"


def _listed(words: list[str]) -> str:
    """Return words with commas and a last `and`."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


_WORDS: dict[str, Callable[[str], str]] = {
    "tempo": _tempo,
    "meter": _meter,
    "swing": lambda text: "straight" if text == "none" else "with swing",
    "dynamics": lambda _: "with dynamics",
    "length": _counted("bar", "bars"),
    "times": lambda text: "once" if text == "1" else f"{text} times",
    "sticking": lambda text: f"as {' '.join(text.split())}" if len(text) <= 24 else "other hands",
    "accents": lambda _: "other accents",
    "lead": _lead,
    "value": _values,
    "back": lambda text: "up and down" if text in ("true", "yes", "") else "",
    "rhythm": lambda _: "in another rhythm",
    "path": _path,
    "orders": _orders,
    "shift": _shifted("moved"),
    "shift-accents": _shifted("accents"),
    "feet": _feet,
    "kick": _own("kick"),
    "kick2": _own("left kick"),
    "pedal": _own("hi-hat pedal"),
}
"""What each change is called in a title."""
