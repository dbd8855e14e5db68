"""Ways through the patterns: ordered steps, each with what must be clean before the next one.

A way is a TOML file in `patterns/ways`, or in the player's own folder `ways`:

title = "Two drums"
about = "From one drum to the next and back."

[[step]]
pattern = "single-stroke-roll"
why = "Both hands alike before anything moves."
tempo = 120                   # clean at this tempo (BPM of the pattern), at solid or tight
back = ""                     # what to go back to while it is not clean; empty: the step before

A way leads and locks nothing: every pattern can be played at any time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer import checked
from trainer.checked import FaultList, read_fields
from trainer.errors import BadInput
from trainer.file_system import read_text, shipped_folder, user_folder
from trainer.pattern.handedness import other_side
from trainer.pattern.library import is_left_handed
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.toml_text import parse

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

LARGEST, MOST_STEPS = 200_000, 100


@dataclass(frozen=True, slots=True)
class Step:
    """A pattern by its name, what it is for, and the tempo (BPM) to be clean at to go further.

    `back` names the pattern to return to while it is not clean, empty on the first step.
    """

    pattern: str
    why: str
    tempo: float
    back: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """Steps in order, at least one."""

    name: str
    title: str
    about: str
    steps: tuple[Step, ...]


_STEP: dict[str, Callable[[Any], Any]] = {
    "pattern": checked.text,
    "why": checked.text,
    "tempo": checked.number(MIN_TEMPO, MAX_TEMPO),
    "back": checked.text,
}
_TOP = {"title": checked.text, "about": checked.text, "step": checked.as_it_is}


def counts_as(played: str) -> tuple[str, ...]:
    """Return the names that a session of a pattern counts for: its own, and that without a lead.

    Whoever sets a lead plays `single-paradiddle lead=left`; a step that names no lead wants either.
    """
    words = [word for word in played.split(" ") if not word.startswith("lead=")]
    return tuple(dict.fromkeys((played, " ".join(words))))


def read_way(source: str, name: str) -> Way:
    """Return the way a TOML text describes; raises BadInput or Faults with lines."""
    faults = FaultList(source)
    top = read_fields(parse(source), _TOP, faults, ())
    needed = ("pattern", "why", "tempo")
    found = checked.read_tables(top.get("step", []), "step", faults, (_STEP, needed), MOST_STEPS)
    rows = [values for _, values in found]
    if not rows and not len(faults):
        faults.add(BadInput("has no steps", where="line 1", fix="write [[step]]"), ())
    faults.show()
    before = ["", *(row["pattern"] for row in rows)]
    steps = tuple(
        Step(**{**row, "back": row.get("back") or one})
        for row, one in zip(rows, before, strict=False)
    )
    return Way(name, top.get("title", name), top.get("about", ""), steps)


def load_way(path: Path) -> Way:
    """Return the way of a file; every fault has the file and the line."""
    try:
        return read_way(read_text(path, LARGEST), path.stem)
    except BadInput as fault:
        raise fault.at(str(path)) from None


def known_ways() -> tuple[list[Way], list[BadInput]]:
    """Return all ways by title, the player's own before a shipped one of its name, and faults."""
    found: dict[str, Way] = {}
    faults: list[BadInput] = []
    for path in _files():
        if path.stem not in found:
            try:
                found[path.stem] = load_way(path)
            except BadInput as fault:
                faults.append(fault)
    own = map(_left_handed, found.values()) if is_left_handed() else found.values()
    return sorted(own, key=lambda way: way.title), faults


def _left_handed(way: Way) -> Way:
    """Return a way with the names of hands exchanged, as its patterns are; their names stay."""
    steps = tuple(replace(step, why=other_side(step.why)) for step in way.steps)
    about = f"{other_side(way.about)} Patterns keep the names of the right-handed kit."
    return replace(way, title=other_side(way.title), about=about, steps=steps)


def _files() -> Iterator[Path]:
    for folder in (user_folder("ways"), shipped_folder("patterns") / "ways"):
        yield from sorted(folder.glob("*.toml"))
