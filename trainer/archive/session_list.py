"""The sessions of a folder as a list: one entry for each, from its first and its last line only.

What was read is kept in a file of the player's own cache, by name, size and time of change, so that
ten thousand sessions are listed at once. The cache can be thrown away at any time: what does not
look as this program writes it is read from the session files again. A file that could not be read
is not remembered: its rights, its disk or this program may be better the next time.

Which session is meant: a path, a part of a file's name, or nothing for the newest.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from dataclasses import dataclass, field
from datetime import datetime  # noqa: TC003  read by msgspec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import msgspec
from msgspec import Struct

from trainer import file_system
from trainer.archive.session import LONGEST_HEADER, LONGEST_LINE, SESSION_SUFFIX
from trainer.archive.session_file import open_session_file
from trainer.archive.session_lines import SummaryLine, read_moment, read_names, read_summary
from trainer.errors import BadInput
from trainer.file_system import (
    disk_reason,
    expand_home,
    path_exists,
    read_bytes,
    shipped_folder,
    user_folder,
)
from trainer.measure.clean import STRICTNESS_LEVELS
from trainer.pattern.json_data import name_as_spelled_now
from trainer.practice.ladder import LONGER
from trainer.typed_json import reader

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from pathlib import Path
    from typing import BinaryIO

    from trainer.archive.session import SessionHeader
    from trainer.archive.session_lines import HeaderNames


LARGEST_CACHE = 2**28
LARGEST_FIGURE = 1e12
LONGEST_SETTING = 200
REPORT_EVERY = 250
"""Files between two words about how far a scan is."""

FIGURES = {
    "errors_percent": ("counts", "errors", "value"),
    "offset_ms": ("offset", "mean", "value"),
    "spread_ms": ("offset", "spread", "value"),
    "evenness_ms": ("evenness", "spread", "value"),
    "gap_ms": ("unisons", "by_kind", "hand+foot", "size", "value"),
    "power_uneven": ("power", "uneven", "value"),
    "silence_ms": ("silence", "size", "value"),
}
"""The main numbers of a summary, by the name a history shows them under and where they are."""


@dataclass(frozen=True, slots=True)
class RungConditions:
    """What makes rungs of one pattern comparable: their ceilings are kept apart otherwise.

    `strictness` is the level and the figures changed in it, `passes` how many passes make a rung
    (0: the pattern's own number), `input` where strokes came from, without numbers that change when
    it is plugged in again. `longer` is True where rungs grew in length instead of tempo. Which hand
    leads is part of the pattern's name.
    """

    strictness: str = ""
    passes: int = 0
    input: str = ""
    longer: bool = False


KIT, KEYS, SIMULATED = "kit", "keys", "simulated"


def input_kind(source: str) -> str:
    """Return what a source of strokes is by its name: a kit, the computer keys, the simulator."""
    return {"keys": KEYS, "simulated player": SIMULATED}.get(source, KIT)


def by_people(entries: Iterable[SessionEntry]) -> tuple[SessionEntry, ...]:
    """Return the sessions in which a person played something."""
    return tuple(one for one in entries if one.played and one.played_on != SIMULATED)


def strictness_words(tolerance: Mapping[str, Any]) -> str:
    """Return a saved tolerance in short: its level, and what is set otherwise."""
    level = str(tolerance.get("level", ""))
    usual = STRICTNESS_LEVELS[level].to_dict() if level in STRICTNESS_LEVELS else {}
    other = [f"{key}={value}" for key, value in sorted(tolerance.items()) if key not in ("level",)]
    changed = [one for one in other if one not in {f"{k}={v}" for k, v in usual.items()}]
    return " ".join([level, *changed]).strip()


@dataclass(frozen=True, slots=True)
class SessionEntry:
    """One session file. `finished` is False where it was cut off; `fault` says why it is unread.

    `seconds` is the time played, `tempos` the lowest and highest in BPM (None without a pass),
    `rungs` the (tempo, clean) of each rung, `figures` the numbers of FIGURES (None: not known),
    `conditions` what it was played under, `clean_tempo` the fastest tempo (BPM) that was clean,
    None where none was or where the file is too old to say. `last_tempo` is that of the last pass
    (None: not known), `course` the settings that were chosen.
    """

    path: Path
    started: datetime
    pattern: str
    title: str
    player: str
    finished: bool
    seconds: float
    passes: int
    strikes: int
    tempos: tuple[float, float] | None
    rungs: tuple[tuple[float, bool], ...]
    figures: dict[str, float | None]
    conditions: RungConditions = RungConditions()
    clean_tempo: float | None = None
    last_tempo: float | None = None
    course: dict[str, str | int | float | bool | None] = field(default_factory=dict)

    @property
    def played_on(self) -> str:
        """What it was played on: one of KIT, KEYS and SIMULATED, which are never mixed."""
        return input_kind(self.conditions.input)

    @property
    def played(self) -> bool:
        """Whether it is finished and holds a stroke: one to continue from, or to look at."""
        return self.finished and self.strikes > 0


@dataclass(frozen=True, slots=True)
class SessionListing:
    """A folder's sessions, the oldest first, and the files that could not be read, with why."""

    entries: tuple[SessionEntry, ...]
    faults: tuple[BadInput, ...]


def list_sessions(folder: Path, reported: Callable[[int], None] | None = None) -> SessionListing:
    """Return the sessions of a folder (none where it is missing); unreadable files are faults.

    `reported` is given the number of files looked at, now and then.
    """
    cache = _Cache(folder)
    entries: list[SessionEntry] = []
    faults: list[BadInput] = []
    for count, path in enumerate(_files(folder), 1):
        if reported and count % REPORT_EVERY == 0:
            reported(count)
        try:
            entries.append(cache.entry(path))
        except BadInput as fault:
            fault.at(str(path))
            faults.append(fault)
        except OSError as error:
            why = f"the file cannot be read ({disk_reason(error)})"
            faults.append(BadInput(why, where=str(path), fix="try again"))
    cache.save()
    entries.sort(key=lambda entry: (entry.started, entry.path.name))
    return SessionListing(tuple(entries), tuple(faults))


def _files(folder: Path) -> Iterator[Path]:
    """Session files of a folder; links are left alone."""
    with contextlib.suppress(OSError), os.scandir(folder) as found:
        for one in found:
            if one.name.endswith(SESSION_SUFFIX) and one.is_file(follow_symlinks=False):
                yield folder / one.name


class Remembered(Struct, frozen=True, array_like=True):
    """A file's size and time of change in nanoseconds, and what it said then."""

    size: int
    changed: int
    entry: SessionEntry


class CacheFile(Struct, frozen=True):
    """All that is remembered of a folder, by the names of its files."""

    version: Literal[5]
    files: dict[str, Remembered]


_read_cache = reader(CacheFile)


def _read_entry(path: Path) -> SessionEntry:
    """Return what a history needs of a file; raises BadInput or OSError."""
    with open_session_file(path) as file:
        head = read_names(file.readline(LONGEST_HEADER + 2))
        last = _last_line(file)
    summary = read_summary(last) if last else None
    end = summary or SummaryLine()
    return SessionEntry(
        path=path,
        started=read_moment(head.started),
        pattern=name_as_spelled_now(head.pattern.name),
        title=head.pattern.title,
        player=head.player,
        finished=summary is not None,
        seconds=end.seconds,
        passes=end.passes,
        strikes=end.strikes,
        tempos=(end.tempos[0], end.tempos[-1]) if end.tempos else None,
        rungs=end.rungs,
        figures=_figures(end.summary),
        conditions=conditions_of(head),
        clean_tempo=max((t for t, clean in end.rungs if clean), default=end.clean_tempo),
        last_tempo=end.last_tempo,
        course=_course(head),
    )


def _course(head: HeaderNames) -> dict[str, str | int | float | bool | None]:
    """Return the chosen settings that are single values of a sensible size."""
    return {
        key: value
        for key, value in head.course.items()
        if (isinstance(value, str) and len(value) <= LONGEST_SETTING)
        or (isinstance(value, (int, float)) and abs(value) <= LARGEST_FIGURE)
    }


def conditions_of(head: HeaderNames | SessionHeader) -> RungConditions:
    """Return what the rungs of a session were played under, from its header."""
    passes = head.course.get("passes")
    return RungConditions(
        strictness=strictness_words(head.tolerance),
        passes=passes if isinstance(passes, int) and 0 < passes < LARGEST_FIGURE else 0,
        input=input_words(head.source),
        longer=head.course.get("rule") == LONGER,
    )


def input_words(source: str) -> str:
    """Return the name of an input without the numbers that change when it is plugged in again."""
    return " ".join(re.sub(r"[\d:]+", " ", source).split())


def _figures(summary: dict[str, Any]) -> dict[str, float | None]:
    found: dict[str, float | None] = {}
    for name, steps in FIGURES.items():
        value: Any = summary
        for step in steps:
            value = value.get(step) if isinstance(value, dict) else None
        known = isinstance(value, (int, float)) and not isinstance(value, bool)
        if known and abs(value) > LARGEST_FIGURE:
            raise BadInput("has a number that is too large", where=f"summary, {'.'.join(steps)}")
        found[name] = float(value) if known else None
    return found


def _last_line(file: BinaryIO) -> bytes:
    """Return the last whole line of a file, empty where the last one is torn."""
    size = file.seek(0, os.SEEK_END)
    for reach in (2**14, LONGEST_LINE):
        file.seek(max(0, size - reach))
        tail = file.read(reach)
        if not tail.endswith(b"\n"):
            return b""
        start = tail.rfind(b"\n", 0, -1) + 1
        if start or reach >= size:
            return tail[start:]
    return b""


class _Cache:
    """Digests by file name, each with the size and time of change it was read at."""

    def __init__(self, folder: Path) -> None:
        name = hashlib.sha256(os.fsencode(folder.absolute())).hexdigest()[:16]
        self._path = user_folder("cache") / f"sessions-{name}.json"
        self._old = self._load()
        self._new: dict[str, Remembered] = {}

    def entry(self, path: Path) -> SessionEntry:
        """Return what a file says, from memory while it has not changed; else it is read."""
        stat = path.stat(follow_symlinks=False)
        known = self._old.get(path.name)
        if (
            known is None
            or (known.size, known.changed) != (stat.st_size, stat.st_mtime_ns)
            or known.entry.path != path
            or [*known.entry.figures] != [*FIGURES]
        ):
            known = Remembered(stat.st_size, stat.st_mtime_ns, _read_entry(path))
        if path.name.isascii():  # as every name that the program gives
            self._new[path.name] = known
        return known.entry

    def save(self) -> None:
        """Keep what was read; without a place to write, the next look is only slower."""
        if self._new == self._old:
            return
        with contextlib.suppress(OSError, UnicodeError):  # a folder's name may not be of letters
            file_system.make_own_folder(self._path.parent)
            text = msgspec.json.encode(CacheFile(5, self._new), enc_hook=os.fspath)
            file_system.replace_file(self._path, text)

    def _load(self) -> dict[str, Remembered]:
        try:
            return _read_cache(read_bytes(self._path, LARGEST_CACHE)).files
        except BadInput:
            return {}


MOST_NAMES = 8


def newest_session(folder: Path) -> Path | None:
    """Return the session that was started last, None where the folder has none."""
    entries = list_sessions(folder).entries
    return entries[-1].path if entries else None


def newest_session_on_kit(folder: Path, kit: str) -> Path | None:
    """Return the session on a kit of that name that was started last, None without any."""
    for entry in reversed(list_sessions(folder).entries):
        with open_session_file(entry.path) as file:
            names = read_names(file.readline(LONGEST_HEADER + 2))
        if names.kit.name == kit:
            return entry.path
    return None


def find_session(folder: Path, name: str | None) -> Path:
    """Return the file of a session; raises BadInput listing what there is.

    `name` is a path, a whole file name with or without its ending, or a part of one that fits a
    single file, in the folder or else among the examples that come with the program. None asks
    for the newest in the folder.
    """
    if name is None:
        path = newest_session(folder)
        if path is None:
            raise BadInput(
                "there is no session yet",
                where=str(folder),
                fix="play one first, or look at an example: example-orders",
            )
        return path
    given = expand_home(name)
    if path_exists(given):  # whoever opens it says what is wrong with a folder or a device
        return given
    return _by_part(folder, name)


def _by_part(folder: Path, part: str) -> Path:
    own = _paths(folder)
    fitting = _fitting(own, part) or _fitting(_paths(shipped_folder("recordings")), part)
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise BadInput(
            f'"{part}" fits {len(fitting)} sessions', fix=f"choose one of {_names(fitting)}"
        )
    known = f"the latest are {_names(own)}" if own else "the folder is empty"
    raise BadInput(f'there is no session "{part}"', where=str(folder), fix=known)


def _paths(folder: Path) -> list[Path]:
    return [entry.path for entry in list_sessions(folder).entries]


def _fitting(paths: Iterable[Path], part: str) -> list[Path]:
    """Return the one path of that name, else all that hold the part."""
    holding = [path for path in paths if part.casefold() in path.name.casefold()]
    return [path for path in holding if part in (path.name, path.stem)] or holding


def _names(paths: Iterable[Path]) -> str:
    """Return the latest names, at most SHOWN of them."""
    names = [path.stem for path in paths][::-1]
    return ", ".join(names[:MOST_NAMES]) + (" and more" if len(names) > MOST_NAMES else "")
