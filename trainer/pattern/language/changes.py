"""Changes to a pattern, written after its name or as options.

Wherever a pattern is named, `single-paradiddle path="snare x4, tom1 x4" feet=samba` means that
pattern with these changes. The same keys make a new pattern from nothing, in the order of the
reference.
"""

from __future__ import annotations

import re
import shlex
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from trainer.checked import nearest, shortened
from trainer.errors import BadInput, raise_faults
from trainer.kit.voices import VOICES
from trainer.pattern.language.old_spelling import is_old, present_spelling
from trainer.pattern.model import FOOT_LIMB

if TYPE_CHECKING:
    from collections.abc import Mapping


PLACES: dict[str, tuple[str, ...]] = {
    "title": ("title",),
    "about": ("about",),
    "tags": ("tags",),
    "level": ("level",),
    "tempo": ("tempo",),
    "tempo-unit": ("tempo_unit",),
    "meter": ("meter",),
    "phrase": ("phrase",),
    "swing": ("swing",),
    "dynamics": ("dynamics",),
    "length": ("length",),
    "times": ("times",),
    "sticking": ("hands", "sticking"),
    "accents": ("hands", "accents"),
    "lead": ("hands", "lead"),
    "value": ("hands", "value"),
    "back": ("hands", "back"),
    "rhythm": ("hands", "rhythm"),
    "path": ("hands", "path"),
    "per": ("hands", "per"),
    "orders": ("hands", "orders"),
    "seed": ("hands", "seed"),
    "each": ("hands", "each"),
    "shift": ("hands", "shift"),
    "shift-accents": ("hands", "shift_accents"),
    "feet": ("feet", "ostinato"),
    "feet-value": ("feet", "value"),
    "kick": ("feet", "kick"),
    "kick2": ("feet", "kick2"),
    "pedal": ("feet", "pedal"),
    "hands": ("bars", "hands"),
}
"""Each key of a change and where it goes in the file's table, in the order they are written."""

TAKEN = {"bars": "bars of it: 3 or 3-4", "section": "a section by its number or title"}
"""Keys that take a part of a pattern once it is read, and what each says."""

MEANINGS = {
    "title": "the title",
    "about": "a sentence about it",
    "tags": "words that say what it trains",
    "level": "1 to 5",
    "tempo": 'in BPM, or a change: "80 to 120"',
    "tempo-unit": "the note value BPM counts, such as 4.",
    "meter": 'such as 7/8, "7/8 3+2+2", or several',
    "phrase": 'other patterns in turn: "groove x3, fill"',
    "swing": 'such as "8 2:1", "16 3:2" or shuffle',
    "dynamics": 'such as p, or "p < f"',
    "length": "how many bars",
    "times": "how often it is repeated",
    "sticking": 'such as "R L R R"',
    "accents": 'a line of their own over the steps: ">--->-"',
    "lead": "right, left or both",
    "value": 'a note value, or several for a climb: "8 8t 16"',
    "back": "the climb comes down again",
    "rhythm": 'the value of each step: "16 x4, 4"',
    "path": 'the drums: "snare x3, tom2"',
    "per": "stroke, beat or bar",
    "orders": "all, or how many",
    "seed": "which draw of the orders",
    "each": "how often each order is played",
    "shift": "steps the figure is moved later",
    "shift-accents": "strokes the accents alone are moved later",
    "feet": "a named ostinato, or none",
    "feet-value": "the step of the feet",
    "kick": 'a grid, or "same as accents"',
    "kick2": "a grid for the left kick",
    "pedal": "a grid for the hi-hat pedal",
    "hands": "of a groove without sticking: crossing, open-handed or alternating",
}
"""What each key of a change says, in a few words."""

_FIRST_KEY = re.compile(r"(?<!\s)\s+[a-z0-9_-]+=")
_NUMBERS = ("level", "length", "times", "seed", "each", "shift", "shift-accents", "tempo")
_SHORT = {"hands": "sticking", "feet": "ostinato"}
"""What a table means that is written as a plain text."""

_SPELLED = ("sticking", "value", "rhythm", "path")
_INSTEAD = {"value": ("rhythm", "back"), "rhythm": ("value", "back")}


def split(text: str) -> tuple[str, dict[str, str]]:
    """Return the name or path a text begins with, and the changes after it."""
    first = _FIRST_KEY.search(text)
    if not first:
        return text, {}
    try:
        words = shlex.split(text[first.start() :])
    except ValueError:
        raise BadInput(
            f'"{shortened(text)}" has half a pair of quotes', fix='write path="snare tom1"'
        ) from None
    changes = {}
    for word in words:
        key, equals, value = word.partition("=")
        key = key.replace("_", "-")  # as files write it
        if not equals:
            raise BadInput(
                f'"{shortened(word)}" is not a change', fix='quote texts: path="snare tom1"'
            )
        if key not in PLACES and key not in TAKEN:
            known = [*PLACES, *TAKEN]
            raise BadInput(f'there is no change "{shortened(key)}"', fix=nearest(key, known))
        changes[key] = value
    return text[: first.start()], changes


def applied(
    table: Mapping[str, Any], changes: Mapping[str, str], *, form: bool = False
) -> dict[str, Any]:
    """Return a file's table with changes; they hold in every section of it.

    Raises BadInput for a change of hands where the table writes none; only a form, which is all
    of the pattern, may add them to feet without a sticking.
    """
    changed = deepcopy(dict(table))
    parts = [changed, *_sections(changed)]
    written = any(_has(part, name) for part in parts for name in ("feet", "bars"))
    alone = form or "sticking" in changes or not written
    targets = {key: _targets(parts, key, alone) for key in changes}
    raise_faults([_handless(parts, key) for key in changes if not targets[key]])
    for key in changes:
        for part in parts:
            _drop(part, key, PLACES[key])
    for key, text in changes.items():
        for part, place in targets[key]:
            _put(part, key, place, _value(key, text))
    return changed


_Target = tuple[dict[str, Any], tuple[str, ...]]
"""A table or a section of it, and where a change goes in it."""


def _targets(parts: list[dict[str, Any]], key: str, alone: bool) -> list[_Target]:
    """Return where a change goes; one of the hands goes where hands are written.

    On a grid the hands take a lead and a sticking. `alone` lets a line of hands begin.
    """
    place = PLACES[key]
    if place[0] == "bars":
        return [(part, place) for part in parts if _is_grid(part)]
    if place[0] != "hands":
        return [(parts[0], place)]
    lines = [part for part in parts if _has(part, "hands")]
    if lines and lines[0] is parts[0]:
        return [(parts[0], place)]
    grids = [part for part in parts if _is_grid(part)]
    if key == "lead":
        lines += [part for part in grids if not _has(part, "hands")]
    if lines:
        return [(part, place) for part in lines]
    if grids:
        return [(part, ("bars", key)) for part in grids] if key == "sticking" else []
    return [(parts[0], place)] if alone else []


def _has(part: dict[str, Any], name: str) -> bool:
    return part.get(name) not in (None, "none")


def _is_grid(part: dict[str, Any]) -> bool:
    """Return whether hands strike in the grid of a table or section."""
    bars = part.get("bars")
    voices = {str(key).partition("/")[0] for key in bars} if isinstance(bars, dict) else set()
    return bool(voices & VOICES.keys() - FOOT_LIMB.keys())


def _handless(parts: list[dict[str, Any]], key: str) -> BadInput:
    """Return why a change of hands has no meaning."""
    where = ".".join(PLACES[key])
    if PLACES[key][0] == "bars":
        return BadInput(f"no grid is written whose {key} could change", where=where)
    if any(map(_is_grid, parts)):
        fix = "its hands take lead and sticking only"
        return BadInput(f"a grid has no {key} to change", where=where, fix=fix)
    return BadInput(
        f"no hands are written whose {key} could change",
        where=where,
        fix='write them too: sticking="R L"',
    )


def said(table: Mapping[str, Any]) -> dict[str, str]:
    """Return what a file's table says at its top as changes would write it.

    What is no plain value (a table where a text belongs) is left out.
    """
    found = {}
    for key, place in PLACES.items():
        value: Any = _opened(table).get(place[0])
        if len(place) == 2:
            value = value.get(place[1]) if isinstance(value, dict) else None
        if isinstance(value, (str, int, float, list)):
            found[key] = _text(value, ", " if key == "tags" else " ")
    return found


def drafted(table: Mapping[str, Any], fields: Mapping[str, str]) -> dict[str, Any]:
    """Return a file's table as a form over it says: a field left empty takes its key out."""
    before = said(table)
    given = {key: text.strip() for key, text in fields.items() if text.strip()}
    base = deepcopy(_opened(table))
    for key in before.keys() - given.keys():
        _drop_exactly(base, PLACES[key])
    changed = {key for key, text in given.items() if text != before.get(key)}
    # A change takes out what it stands in for; what the form still says beside it is put back.
    changed |= {other for key in changed for other in _replaced(key) if other in given}
    return applied(base, {key: given[key] for key in PLACES if key in changed}, form=True)


def written(changes: Mapping[str, str]) -> str:
    """Return changes as they are written after a name; `split` reads them back."""
    return "".join(f" {key}={shlex.quote(value)}" for key, value in changes.items())


def present_name(name: str) -> str:
    """Return a name with changes as it is spelled now, where it was saved in the old spelling."""
    if "=" not in name or not is_old(name):
        return name
    try:
        base, made = split(name)
    except BadInput:
        return name
    old = {key: text for key, text in made.items() if key in _SPELLED and is_old(text)}
    now = {key: present_spelling(text) or text for key, text in old.items()}
    return base + written(made | now) if now else name


def _sections(table: dict[str, Any]) -> list[dict[str, Any]]:
    listed = table.get("section")
    return [one for one in listed if isinstance(one, dict)] if isinstance(listed, list) else []


def _opened(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table with the short forms of hands and feet written out."""
    opened = dict(table)
    for name, key in _SHORT.items():
        if isinstance(opened.get(name), str):
            opened[name] = {} if opened[name] == "none" else {key: opened[name]}
    return opened


def _drop_exactly(table: dict[str, Any], place: tuple[str, ...]) -> None:
    """Take one key out, and its table when nothing else is left there."""
    inner = table if len(place) == 1 else table.get(place[0])
    if isinstance(inner, dict):
        inner.pop(place[-1], None)
        if not inner:
            table.pop(place[0], None)


def _replaced(key: str) -> tuple[str, ...]:
    """Return the keys that a change takes out beside its own."""
    if key == "feet":
        return tuple(key for key, place in PLACES.items() if place[0] == "feet")
    return _INSTEAD.get(key, ())


def _text(value: Any, between: str) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return between.join(map(str, value)) if isinstance(value, list) else str(value)


def _drop(part: dict[str, Any], key: str, place: tuple[str, ...]) -> None:
    """Take out what a change replaces."""
    if len(place) == 1:
        part.pop(place[0], None)
        return
    inner = part.get(place[0])
    if isinstance(inner, str) and inner != "none":
        part[place[0]] = inner = {_SHORT[place[0]]: inner}
    if key == "feet":
        part.pop("feet", None)
    elif isinstance(inner, dict):
        for name in (place[1], *_INSTEAD.get(key, ())):
            inner.pop(name, None)


def _put(table: dict[str, Any], key: str, place: tuple[str, ...], value: Any) -> None:
    if key == "feet" and value == "none":
        return
    if len(place) == 2 and table.get(place[0]) == "none":
        del table[place[0]]
    inner = table if len(place) == 1 else table.setdefault(place[0], {})
    if isinstance(inner, dict):
        inner[place[-1]] = value


def _value(key: str, text: str) -> Any:
    """Return a change's text as the kind of value the file would hold."""
    if key == "back":
        return {"true": True, "yes": True, "": True, "false": False, "no": False}.get(text, text)
    if key in _NUMBERS or (key == "orders" and text != "all"):
        try:
            return int(text)
        except ValueError:
            try:
                return float(text)
            except ValueError:
                return text
    if key == "tags" and "," in text:
        return [word.strip() for word in text.split(",") if word.strip()]
    return text.split() if key == "tags" else text


def in_reference_order(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table with its keys in the order of the reference; others follow as before."""
    return {
        key: dict(_sorted_by_place(value, (key,))) if isinstance(value, dict) else value
        for key, value in _sorted_by_place(table, ())
    }


def _sorted_by_place(table: Mapping[str, Any], prefix: tuple[str, ...]) -> list[tuple[str, Any]]:
    places = [*PLACES.values()]

    def rank(item: tuple[str, Any]) -> int:
        place = (*prefix, item[0])
        return places.index(place) if place in places else len(places)

    return sorted(table.items(), key=rank)
