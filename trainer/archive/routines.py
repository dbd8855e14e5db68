"""Routines: TOML files in a folder, found by name, and how far the practice of each has come.

title = "Between two shows"

[[block]]
kind = "warm-up"
pattern = "single-stroke-roll"
tempo = 60
minutes = 5

[[block]]
kind = "ladder"
pattern = "five-and-three"
from = 70                     # default: a little below the ceiling
step = 1
minutes = 15

[[block]]
kind = "rest"
minutes = 3

A block of kind "free" has minutes only. A ladder may also have top, rule, clean_to_rise and passes.
Every block but a rest may say what its click plays, as the options of the same names do:
click_parts = "1x4,4x4", click_on = "2,4", click_accents, click_late, click_swing and silent_bars.

A routine for a week is an assignment: `word` is what the teacher says, `week = 2026-11-30` any day
of the week it is for, and `aim = 92` in a block the tempo (BPM) to be clean at. Patterns that do
not ship are in the same file (`trainer.archive.carried_patterns`).
"""

from __future__ import annotations

import contextlib
import hashlib
import re
from dataclasses import fields, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from msgspec import Meta, Struct

from trainer import checked
from trainer.archive.carried_patterns import carried_source, read_carried, unpack
from trainer.checked import FaultList, read_fields
from trainer.errors import BadInput, TrainerError
from trainer.file_system import (
    expand_home,
    free_path,
    path_exists,
    read_bytes,
    read_text,
    user_folder,
    write_file,
    write_text,
)
from trainer.pattern import library
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice import ladder
from trainer.practice.click_figure import FIGURE_TEXTS, read_figure
from trainer.practice.routine import (
    BLOCK_KINDS,
    FREE,
    FREE_PLAY,
    LADDER,
    REST,
    WARM_UP,
    Block,
    Routine,
    RoutineProgress,
)
from trainer.toml_text import changed_text, parse
from trainer.typed_json import Count, encode, reader

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from trainer.archive.session_list import SessionEntry


ROUTINE_ENDING = ".toml"
ROUTINE_NAME = re.compile(r"[\w][\w .-]{0,60}")

_EXAMPLE = """\
title = ""

[[block]]
kind = "warm-up"              # a pattern at one tempo
pattern = ""
minutes = 5                   # tempo = 60 plays it slower than it is written

[[block]]
kind = "ladder"               # begins a little below your ceiling; from = 70 sets it
pattern = ""
minutes = 15                  # also: step, top, rule, clean_to_rise, passes

[[block]]
kind = "rest"
minutes = 3

[[block]]
kind = "free"                 # play what you like to the click
minutes = 7
"""


def known_routines() -> list[Path]:
    """Return the files of the player's own routines, by name."""
    folder = user_folder("routines")
    return sorted(folder.glob(f"*{ROUTINE_ENDING}")) if folder.is_dir() else []


def find_routine(name_or_path: str) -> Path:
    """Return the file of a routine: a path, or the name of one in the player's folder."""
    given = expand_home(name_or_path)
    if (
        path_exists(given) or given.suffix == ROUTINE_ENDING
    ):  # whoever reads it says what is wrong with it
        return given
    names = {path.stem: path for path in known_routines()}
    if name_or_path not in names:
        raise BadInput(
            f'there is no routine "{name_or_path[:60]}"',
            fix=checked.nearest(name_or_path, [*names]),
        )
    return names[name_or_path]


def begin_routine(name: str, pattern: str) -> Path:
    """Write a routine around a pattern, to be changed by hand; return where it is.

    Raises BadInput for a name that cannot be a file's, or that is taken.
    """
    check_routine_name(name)
    path = user_folder("routines") / f"{name}{ROUTINE_ENDING}"
    write_text(path, example_routine(name, pattern), LARGEST_ROUTINE)
    return path


def example_routine(title: str, pattern: str) -> str:
    """Return the text of a routine around a pattern, with comments on what to change in it."""
    example = parse(_EXAMPLE)
    blocks = [
        {**block, "pattern": pattern} if "pattern" in block else block for block in example["block"]
    ]
    return changed_text(_EXAMPLE, example, {"title": title, "block": blocks})


def routine_text(routine: Routine) -> str:
    """Return the text of a routine's file."""
    blocks = [dict(_said(block)) for block in routine.blocks]
    return changed_text("", {}, {"title": routine.title, "block": blocks})


def _said(block: Block) -> Iterator[tuple[str, Any]]:
    """Yield the fields of a block that say something."""
    usual = Block(block.kind, block.minutes)
    # A pattern that another file carries is found where that one was unpacked.
    block = replace(block, pattern=block.opened, source="", title="")
    for one in fields(block):
        value = getattr(block, one.name)
        if one.name == "click":
            yield from value
        elif one.name in ("kind", "minutes") or value != getattr(usual, one.name):
            yield "from" if one.name == "start" else one.name, value


def save_routine(path: Path, routine: Routine) -> Path:
    """Write a routine into a file of that name, or beside one that is there; return where."""
    path = free_path(path)
    write_text(path, routine_text(routine), LARGEST_ROUTINE)
    return path


def check_routine_name(name: str) -> None:
    """Raise BadInput for a name that leaves the folder or belongs to another routine."""
    if not ROUTINE_NAME.fullmatch(name):
        raise BadInput(
            f'"{name[:60]}" cannot be the name of a routine',
            fix="use letters, digits, blanks, dots and dashes",
        )
    if path_exists(user_folder("routines") / f"{name}{ROUTINE_ENDING}"):
        raise BadInput(f'there is a routine "{name}" already', fix="choose another name")


LARGEST_ROUTINE = library.MAX_BYTES
MOST_BLOCKS = 200
MOST_MINUTES = 12 * 60.0
LEAST_MINUTES = 0.25
"""A shorter block is over before the first pass of most patterns."""

ENOUGH_LEFT_S = 10.0
"""With less than this left of a block that was begun, it counts as done."""

_TEMPO = checked.number(MIN_TEMPO, MAX_TEMPO)
COMMON: dict[str, Callable[[Any], Any]] = {
    "kind": checked.choice(*BLOCK_KINDS),
    "minutes": checked.number(LEAST_MINUTES, MOST_MINUTES),
}


def _as_text(value: Any) -> str:
    """Return a text, or a whole number as one."""
    return str(value) if type(value) is int else checked.text(value)


CLICK: dict[str, Callable[[Any], Any]] = dict.fromkeys(FIGURE_TEXTS, _as_text)
FIELDS: dict[str, dict[str, Callable[[Any], Any]]] = {
    WARM_UP: {"pattern": checked.text, "tempo": _TEMPO, "aim": _TEMPO, **CLICK},
    LADDER: {
        "pattern": checked.text,
        "aim": _TEMPO,
        "from": _TEMPO,
        "step": checked.number(0.1, ladder.MAX_STEP),
        "top": _TEMPO,
        "rule": checked.choice(*ladder.LADDER_RULES),
        "clean_to_rise": checked.whole(1, 3),
        "passes": checked.whole(1, 10_000),
        **CLICK,
    },
    FREE: CLICK,
    REST: {},
}


def _day(value: Any) -> date:
    """Return a day written as `2026-11-30`, as TOML's own date or as text."""
    try:
        return value if type(value) is date else date.fromisoformat(value)
    except (TypeError, ValueError):
        raise BadInput(f"{checked.shown(value)} is no day", fix="write 2026-11-30") from None


_TOP: dict[str, Callable[[Any], Any]] = {
    "title": checked.text,
    "word": checked.text,
    "week": _day,
    "block": checked.as_it_is,
    "pattern": checked.as_it_is,
}
_ANY_KIND = {key: reader for fields in FIELDS.values() for key, reader in fields.items()}
NEEDED = {WARM_UP: ("minutes", "pattern"), LADDER: ("minutes", "pattern")}


def load_routine(path: Path) -> Routine:
    """Return the routine of a file; every fault is reported with the file, the line and the key."""
    try:
        return read_routine(read_text(path, LARGEST_ROUTINE), path.stem)
    except BadInput as fault:
        raise fault.at(str(path)) from None


def read_routine(source: str, name: str) -> Routine:
    """Return the routine a TOML text describes; raises BadInput or Faults.

    Patterns are looked for and ladders checked, so that nothing is found out after the first click.
    """
    table = parse(source)
    faults = FaultList(source)
    top = read_fields(table, _TOP, faults, ())
    rows = top.get("block", [])
    if not rows and not len(faults):  # else a key that is not known was meant for it
        fix = "write [[block]], see trainer routine --help"
        where = None if "block" in table else "line 1"
        faults.add(BadInput("has no blocks", where=where, fix=fix), ("block",)[: not where])
    carried = read_carried(top.get("pattern", []), faults)
    folder = unpack(carried) if carried else Path()
    found = []
    for place, values in checked.read_tables(rows, "block", faults, _shape, MOST_BLOCKS):
        if carried and "pattern" in values:
            with contextlib.suppress(BadInput):  # what is wrong with the name is said by the block
                values["source"] = carried_source(values["pattern"], carried, folder)
        found.append(_block(values, place, faults))
    faults.show()
    title, word = top.get("title", name), top.get("word", "")
    return Routine(title, tuple(found), word, top.get("week"), carried)


def _shape(row: Mapping[str, Any]) -> tuple[dict[str, Callable[[Any], Any]], tuple[str, ...]]:
    """Return the fields of a block, and those it must have."""
    kind = row.get("kind")
    # Where the kind itself is wrong, the keys of any kind may be right.
    known = FIELDS.get(kind) if isinstance(kind, str) else None
    needed = ("kind", *NEEDED.get(str(kind), ("minutes",)))
    return {**COMMON, **(_ANY_KIND if known is None else known)}, needed


def _block(values: dict[str, Any], place: int, faults: FaultList) -> Block:
    if "from" in values:
        values["start"] = values.pop("from")
    click = {name: values.pop(name) for name in FIGURE_TEXTS if name in values}
    try:
        read_figure(click)
    except BadInput as fault:
        faults.add(BadInput(fault.what, fix=fault.fix), ("block", place, str(fault.where)))
    block = Block(**values, click=tuple(click.items()))
    for key, check in (("pattern", _titled), ("from", _checked_ladder)):
        try:
            block = check(block)
        except BadInput as fault:
            faults.add(fault, ("block", place, key))
    return block


def _titled(block: Block) -> Block:
    named = block.kind in NEEDED
    return replace(block, title=library.load_pattern(block.opened).title) if named else block


def _checked_ladder(block: Block) -> Block:
    if block.kind == LADDER and block.start is not None:
        rule, step = ladder.chosen_rule(block.rule, block.step)
        top = block.top or MAX_TEMPO
        ladder.check_ladder(ladder.Ladder(block.start, step, top, rule=rule))
    return block


def _played_name(block: Block) -> str:
    """Return the name of the pattern in a block's sessions."""
    return library.load_pattern(block.opened).name if block.kind in NEEDED else FREE_PLAY


def blocks_by_pattern(routine: Routine) -> dict[str, Block]:
    """Return the last block of each pattern, by the name the pattern has in sessions."""
    return {_played_name(block): block for block in routine.blocks if block.pattern}


class KeptProgress(Struct, frozen=True):
    """How far a routine has come, as its file says: `began` is when the next block did."""

    routine: str
    block: Count
    seconds: Annotated[float, Meta(ge=0, le=MOST_MINUTES * 60)]
    began: datetime | None = None


LARGEST_PROGRESS = 10_000
_read_progress = reader(KeptProgress)


class RoutineProgressFile:
    """How far the practice of one routine file has come; kept before and after every block.

    A file that was changed since begins again, as does one whose last practice was finished. A
    block that was stopped, or cut off by a crash, counts for what its sessions hold.
    """

    def __init__(self, path: Path, routine: Routine) -> None:
        self.routine = routine
        self._mark = hashlib.sha256(repr(routine).encode()).hexdigest()
        name = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:16]
        self._path = user_folder("routines") / f"{name}.json"

    def progress(self, entries: Iterable[SessionEntry] = ()) -> RoutineProgress:
        """Return where to continue; the beginning where nothing, or nothing fitting, is kept.

        Of the sessions those count that began since the block did, and play its pattern.
        """
        try:
            kept = _read_progress(read_bytes(self._path, LARGEST_PROGRESS))
        except BadInput:
            return RoutineProgress()
        block, seconds, cut_off = kept.block, kept.seconds, kept.began
        if kept.routine != self._mark or block >= len(self.routine.blocks):
            return RoutineProgress()
        if cut_off and cut_off.tzinfo:
            name = _played_name(self.routine.blocks[block])
            own = (one for one in entries if one.pattern == name and one.started >= cut_off)
            seconds += sum(one.seconds for one in own)
        done = RoutineProgress(block, min(float(seconds), self.routine.blocks[block].seconds))
        begun = done.seconds > 0 and done.left(self.routine) < ENOUGH_LEFT_S
        if not begun:
            return done
        return RoutineProgress() if done.after().over(self.routine) else done.after()

    def keep(self, progress: RoutineProgress, began: datetime | None = None) -> None:
        """Keep how far it has come, and since when the next block is being played.

        What is finished is forgotten. Where nothing can be written, the next start begins again.
        """
        with contextlib.suppress(OSError, TrainerError):
            if progress.over(self.routine):
                self._path.unlink(missing_ok=True)
                return
            kept = {
                "routine": self._mark,
                "block": progress.block,
                "seconds": progress.seconds,
                "began": began.isoformat() if began else None,
            }
            write_file(self._path, encode(kept), own=True)
