"""Goals: the tempos you need, kept in a TOML file that can be edited by hand.

[[goal]]
name = "Overture, last page"
tempo = 152
value = "16"
player = ""          # empty: anybody
pattern = ""         # empty: any pattern counts
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainer import checked
from trainer.checked import FaultList, read_fields
from trainer.errors import BadInput
from trainer.file_system import NoSuchFile, read_text, user_folder, write_text
from trainer.pattern.language.changes import present_name
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO, NOTE_VALUES
from trainer.toml_text import changed_text, parse

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

LARGEST, MOST_GOALS = 1_000_000, 1000
"""Bytes and goals of the file; both hold for reading and for writing."""


@dataclass(frozen=True, slots=True)
class Goal:
    """What a piece needs: a tempo in quarter notes a minute, and a note value at it."""

    name: str
    tempo: float
    value: str
    player: str = ""
    pattern: str = ""


FIELDS: dict[str, Callable[[Any], Any]] = {
    "name": checked.text,
    "tempo": checked.number(MIN_TEMPO, MAX_TEMPO),
    "value": checked.choice(*NOTE_VALUES),
    "player": checked.text,
    "pattern": lambda value: present_name(checked.text(value)),
}
NEEDED = ("name", "tempo", "value")


def path() -> Path:
    """Return where the goals are kept."""
    return user_folder("goals.toml")


def load() -> tuple[Goal, ...]:
    """Return the goals, none where there is no file; faults are reported with their lines."""
    try:
        return read(_source())
    except BadInput as fault:
        raise fault.at(str(path())) from None


def read(source: str) -> tuple[Goal, ...]:
    """Return the goals a TOML text lists; raises BadInput or Faults."""
    faults = FaultList(source)
    top = read_fields(parse(source), {"goal": checked.as_it_is}, faults, ())
    rows = checked.read_tables(top.get("goal", []), "goal", faults, (FIELDS, NEEDED), MOST_GOALS)
    found = tuple(Goal(**values) for _, values in rows)
    faults.show()
    return found


def add(goal: Goal) -> tuple[Goal, ...]:
    """Keep a goal, in place of one of the same name; return all. Raises BadInput for nonsense."""
    check(goal)
    known = load()
    names = [one.name.casefold() for one in known]
    if goal.name.casefold() in names:
        at = names.index(goal.name.casefold())
        return _save(known, (*known[:at], goal, *known[at + 1 :]))
    if len(known) >= MOST_GOALS:
        raise BadInput(f"there are {MOST_GOALS} goals already", fix="remove one first")
    return _save(known, (*known, goal))


def remove(name: str) -> tuple[Goal, ...]:
    """Forget a goal; return those that are left. Raises BadInput for a name that is not kept."""
    known = load()
    kept = tuple(one for one in known if one.name.casefold() != name.casefold())
    if len(kept) == len(known):
        raise BadInput(
            f'there is no goal "{name}"', fix=checked.nearest(name, [one.name for one in known])
        )
    return _save(known, kept)


def check(goal: Goal) -> None:
    """Raise BadInput for what could not be read again, by the names of the options."""
    if not goal.name.strip():
        raise BadInput("a goal needs a name", fix='write trainer goal add "name" --tempo 152')
    faults = FaultList("")
    read_fields(asdict(goal), FIELDS, faults, ())
    faults.show()


def _source() -> str:
    try:
        return read_text(path(), LARGEST)
    except NoSuchFile:
        return ""


def _save(before: Sequence[Goal], after: tuple[Goal, ...]) -> tuple[Goal, ...]:
    """Write what differs into the file; what was written by hand stays, comments too."""
    text = changed_text(_source(), _table(before), _table(after), read)
    write_text(path(), text, LARGEST)
    return after


def _table(goals: Sequence[Goal]) -> dict[str, Any]:
    return {"goal": [asdict(one) for one in goals]} if goals else {}
