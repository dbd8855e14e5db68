"""The sessions of a folder as a list: one entry for each, from its first and its last line only.

What was read is kept in a file of the player's own cache, by name, size and time of change, so that
ten thousand sessions are listed at once. The cache can be thrown away at any time: what does not
look as this program writes it is read from the session file again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer import file_system
from trainer.archive.session_file import open_session_file
from trainer.archive.session_format import (
    LONGEST_HEADER,
    LONGEST_LINE,
    SESSION_SUFFIX,
    header_fields,
    read_moment,
    summary_fields,
)
from trainer.errors import BadInput
from trainer.fields import Fields, json_number
from trainer.file_system import user_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path
    from typing import BinaryIO

CACHE_VERSION = 1
REPORT_EVERY = 250
"""Files between two words about how far a scan is."""

FIGURES = {
    "errors_percent": ("counts", "errors", "value"),
    "offset_ms": ("offset", "mean", "value"),
    "spread_ms": ("offset", "spread", "value"),
    "evenness_ms": ("evenness", "spread", "value"),
    "gap_ms": ("unisons", "by_kind", "hand+foot", "size", "value"),
    "power_uneven": ("power", "uneven", "value"),
}
"""The main numbers of a summary, by the name a history shows them under and where they stand."""


@dataclass(frozen=True, slots=True)
class SessionEntry:
    """One session file. `finished` is False where it was cut off; `fault` says why it is unread.

    `seconds` is the time played, `tempos` the lowest and highest in BPM (None without a pass),
    `rungs` the (tempo, clean) of each rung, `figures` the numbers of FIGURES (None: not known).
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

    @property
    def played(self) -> bool:
        """Whether it is finished and holds a stroke: one to go on from, or to look at."""
        return self.finished and self.strikes > 0


@dataclass(frozen=True, slots=True)
class SessionListing:
    """A folder's sessions, the oldest first, and the files that could not be read, with why."""

    entries: tuple[SessionEntry, ...]
    faults: tuple[BadInput, ...]


def list_sessions(folder: Path, told: Callable[[int], None] | None = None) -> SessionListing:
    """Return the sessions of a folder (none where it is missing); unreadable files are faults.

    `told` hears now and then how many files have been looked at.
    """
    cache = _Cache(folder)
    entries: list[SessionEntry] = []
    faults: list[BadInput] = []
    for count, (path, stat) in enumerate(_files(folder), 1):
        if told and count % REPORT_EVERY == 0:
            told(count)
        found = cache.look_up(path, stat) or cache.read(path, stat)
        if isinstance(found, SessionEntry):
            entries.append(found)
        else:
            faults.append(found)
    cache.save()
    entries.sort(key=lambda entry: (entry.started, entry.path.name))
    return SessionListing(tuple(entries), tuple(faults))


def _files(folder: Path) -> Iterator[tuple[Path, os.stat_result]]:
    """Session files of a folder; links are left alone."""
    with contextlib.suppress(OSError), os.scandir(folder) as found:
        for one in found:
            if one.name.endswith(SESSION_SUFFIX) and one.is_file(follow_symlinks=False):
                yield folder / one.name, one.stat(follow_symlinks=False)


def _digest(path: Path) -> dict[str, Any]:
    """Return what a history needs of a file as plain values; a fault is a digest as well."""
    try:
        with open_session_file(path) as file:
            head = header_fields(file.readline(LONGEST_HEADER + 2))
            last = _last_line(file)
        end = (summary_fields(last) if last else None) or Fields({})
        return _values(head, end)
    except BadInput as error:
        return {"fault": error.what, "mend": error.mend or ""}


def _values(head: Fields, end: Fields) -> dict[str, Any]:
    """Return the values of a digest, each of the kind that `_entry` wants."""
    pattern = head.inside("pattern")
    return {
        "started": read_moment(head.text("started")).isoformat(),
        "player": head.text("player", ""),
        "pattern": pattern.text("name", ""),
        "title": pattern.text("title", ""),
        "finished": "kind" in end,
        "seconds": end.number("seconds", 0, 1e9, 0.0),
        "passes": end.whole("passes", 0, 10**9, 0),
        "strikes": end.whole("strikes", 0, 10**9, 0),
        "tempos": list(end.numbers("tempos", 2)),
        "rungs": [_rung(row) for row in end.rows("rungs", 100_000)],
        "figures": _figures(end.table("summary")),
    }


def _rung(row: object) -> list[float | bool]:
    match row:
        case [int() | float() as tempo, bool(clean)]:
            return [float(json_number(tempo, "a rung's tempo", 0, 1000)), clean]
    raise BadInput("a rung of the summary cannot be read")


def _figures(summary: dict[str, Any]) -> dict[str, float | None]:
    found: dict[str, float | None] = {}
    for name, steps in FIGURES.items():
        value: Any = summary
        for step in steps:
            value = value.get(step) if isinstance(value, dict) else None
        found[name] = float(value) if isinstance(value, (int, float)) else None
    return found


_KINDS = {
    "started": str,
    "player": str,
    "pattern": str,
    "title": str,
    "finished": bool,
    "seconds": float,
    "passes": int,
    "strikes": int,
    "tempos": list,
    "rungs": list,
    "figures": dict,
}
"""What a digest holds, and of which kind: compared at once, since there may be thousands."""

_FAULT_KINDS = {"fault": str, "mend": str}


def _entry(path: Path, digest: Any) -> SessionEntry | BadInput | None:
    """Return what a digest says of a file, None where it is no digest of this program's."""
    kinds = {key: type(value) for key, value in digest.items()}
    if kinds == _FAULT_KINDS:
        return BadInput(digest["fault"], where=str(path), mend=digest["mend"] or None)
    if kinds != _KINDS or digest["figures"].keys() != FIGURES.keys():
        return None
    tempos = digest["tempos"]
    return SessionEntry(
        path=path,
        started=datetime.fromisoformat(digest["started"]),
        pattern=digest["pattern"],
        title=digest["title"],
        player=digest["player"],
        finished=digest["finished"],
        seconds=digest["seconds"],
        passes=digest["passes"],
        strikes=digest["strikes"],
        tempos=(tempos[0], tempos[-1]) if tempos else None,
        rungs=tuple([(tempo, clean) for tempo, clean in digest["rungs"]]),
        figures=digest["figures"],
    )


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
        self._new: dict[str, Any] = {}

    def look_up(self, path: Path, stat: os.stat_result) -> SessionEntry | BadInput | None:
        """Return what is known of a file, None where it has changed or was never read."""
        known = self._old.get(path.name, ())
        try:
            size, changed, digest = known
            if (size, changed) != (stat.st_size, stat.st_mtime_ns):
                return None
            entry = _entry(path, digest)
        except (TypeError, ValueError, AttributeError):
            return None
        self._new[path.name] = known
        return entry

    def read(self, path: Path, stat: os.stat_result) -> SessionEntry | BadInput:
        """Read a file, and remember what it says."""
        digest = _digest(path)
        self._new[path.name] = [stat.st_size, stat.st_mtime_ns, digest]
        entry = _entry(path, digest)
        assert entry is not None
        return entry

    def save(self) -> None:
        """Keep what was read; without a place to write, the next look is only slower."""
        if self._new == self._old:
            return
        with contextlib.suppress(OSError):
            self._path.parent.mkdir(parents=True, exist_ok=True)
            text = json.dumps({"version": CACHE_VERSION, "files": self._new})
            file_system.replace_file(self._path, text.encode("ascii"))

    def _load(self) -> dict[str, Any]:
        try:
            kept = json.loads(self._path.read_bytes(), parse_constant=int)  # int refuses NaN
            files = kept["files"] if kept["version"] == CACHE_VERSION else {}
        except (OSError, ValueError, LookupError, TypeError, RecursionError):
            return {}
        return files if isinstance(files, dict) else {}
