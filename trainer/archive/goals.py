"""Goals: the tempos you need, kept in a TOML file that can be edited by hand.

[[goal]]
name = "Overture, last page"
tempo = 152
value = "16"
player = ""          # empty: anybody
pattern = ""         # empty: any pattern counts
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.file_system import NoSuchFile, read_text, user_folder, write_file
from trainer.pattern.language.changes import present_name
from trainer.pattern.model import NOTE_VALUES
from trainer.practice.course import MAX_TEMPO, MIN_TEMPO
from trainer.toml_file import FaultList, choice, nearest, number, read_fields, text
from trainer.toml_source import parse

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

LARGEST = 1_000_000
"""Bytes of the file: a thousand goals are a tenth of it."""


@dataclass(frozen=True, slots=True)
class Goal:
    """What a piece asks for: a tempo in quarter notes a minute, and a note value at it."""

    name: str
    tempo: float
    value: str
    player: str = ""
    pattern: str = ""


FIELDS: dict[str, Callable[[Any], Any]] = {
    "name": text,
    "tempo": number(MIN_TEMPO, MAX_TEMPO),
    "value": choice(*NOTE_VALUES),
    "player": text,
    "pattern": lambda value: present_name(text(value)),
}
NEEDED = ("name", "tempo", "value")


def path() -> Path:
    """Return where the goals are kept."""
    return user_folder("goals.toml")


def load() -> tuple[Goal, ...]:
    """Return the goals, none where there is no file; faults are told with their lines."""
    try:
        return read(read_text(path(), LARGEST))
    except NoSuchFile:
        return ()
    except BadInput as fault:
        raise fault.at(str(path())) from None


def read(source: str) -> tuple[Goal, ...]:
    """Return the goals a TOML text lists; raises BadInput or Faults."""
    table = parse(source)
    faults = FaultList(source)
    for key in table:
        if key != "goal":
            faults.add(BadInput("this key is not known", mend=nearest(key, ["goal"])), (key,))
    rows = table.get("goal", [])
    if not isinstance(rows, list) or len(rows) > 1000:
        faults.add(BadInput("is not a list of tables", mend="write [[goal]]"), ("goal",))
        rows = []
    found = []
    for place, row in enumerate(rows):
        values = read_fields(row, FIELDS, faults, ("goal", place))
        missing = [key for key in NEEDED if not isinstance(row, dict) or key not in row]
        if missing:
            fault = BadInput(f"{missing[0]} is missing", mend=f"write {', '.join(missing)}")
            faults.add(fault, ("goal", place))
        elif all(key in values for key in NEEDED):
            found.append(Goal(**values))
    faults.tell()
    return tuple(found)


def add(goal: Goal) -> tuple[Goal, ...]:
    """Keep a goal, in place of one of the same name; return all. Raises BadInput for nonsense."""
    check(goal)
    kept = [one for one in load() if one.name.casefold() != goal.name.casefold()]
    return _save([*kept, goal])


def remove(name: str) -> tuple[Goal, ...]:
    """Forget a goal; return those that are left. Raises BadInput for a name that is not kept."""
    known = load()
    kept = [one for one in known if one.name.casefold() != name.casefold()]
    if len(kept) == len(known):
        raise BadInput(
            f'there is no goal "{name}"', mend=nearest(name, [one.name for one in known])
        )
    return _save(kept)


def check(goal: Goal) -> None:
    """Raise BadInput for what could not be read again, by the names of the options."""
    if not goal.name.strip():
        raise BadInput("a goal needs a name", mend='write trainer goal add "name" --tempo 152')
    faults = FaultList("")
    read_fields(asdict(goal), FIELDS, faults, ())
    faults.tell()


def _save(goals: Sequence[Goal]) -> tuple[Goal, ...]:
    write_file(path(), _text(goals).encode(), make_folder=True)
    return tuple(goals)


def _text(goals: Sequence[Goal]) -> str:
    rows = []
    for one in goals:
        rows += ["[[goal]]", f"name = {_quoted(one.name)}", f"tempo = {one.tempo:g}"]
        rows += [f'value = "{one.value}"', f"player = {_quoted(one.player)}"]
        rows += [f"pattern = {_quoted(one.pattern)}", ""]
    return "\n".join(rows)


def _quoted(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)
