"""Runs whole commands over homes full of damaged files: `fuzz_commands.py SECONDS [FOLDER] [SEED]`.

A home gets sessions, kits, patterns, goals, routines and settings, most of them damaged, some of
them not even files. Every command is then run on it in this process, where the net at the edge of
the program is not. What counts as broken: an exception that is not one of our own, no answer within
LIMIT_S, a status that is none, and a file of the player's that was changed by a command that only
reads. Homes that broke something are kept in FOLDER, and the figures are printed at the end.
`tests/test_fuzz.py` does the same for a few homes.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

import strangers

from trainer import cli

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import FrameType

LIMIT_S = 30
MEMORY = 3 * 2**30

PUT_IN = (
    *(b"\n", b"\x00", b"\xff", b"\x1b[2J", b'"', b"[[", b"]]", b" = ", b"null", b"true", b"[]"),
    *(b"{}", b"-1", b"0", b"1e999", b"nan", b"inf", b"1e308", b"-0.0", b"9" * 400, b"[" * 300),
    *(b"0x" + b"F" * 40, b"2020-01-01", b"\xed\xa0\x80", b"\\ud800", b"00", b"1/0", b"7/4"),
)

VALUE = re.compile(rb"[:=] ?([^,}\n]+)")
"""A value of JSON or TOML, for another one to take its place."""

READING = [
    ["history"],
    ["history", "--json"],
    ["history", "--player", "Ada"],
    ["advice", "--no-drills"],
    ["advice", "--no-drills", "--json"],
    ["tonight"],
    ["tonight", "--json", "--minutes", "60"],
    ["goal"],
    ["goal", "list", "--json"],
    ["kit"],
    ["kit", "list"],
    ["patterns", "list"],
    ["patterns", "list", "--json"],
    ["explain", "clean"],
    ["replay", "--plain", "--full"],
    ["replay", "--json", "--map"],
    ["student", "list"],
]
"""Commands that look at all there is; what is in the home stays as it is, but for the cache."""

EACH = {
    "recordings": [
        ["replay", "FILE", "--map"],
        ["replay", "FILE", "--json"],
        ["replay", "FILE", "--latency", "3", "--full"],
        ["replay", "FILE", "--rung", "1"],
        ["assess", "FILE"],
        ["advice", "FILE", "--no-drills"],
        ["compare", "FILE", "OTHER"],
        ["replay", "FILE", "--over", "OTHER"],
    ],
    "kits": [
        ["kit", "check", "FILE"],
        ["replay", "example-orders", "--kit", "FILE", "--plain"],
        ["assess", "TAKE", "--pattern", "flam", "--kit", "FILE"],
    ],
    "patterns": [
        ["patterns", "check", "FILE"],
        ["patterns", "show", "FILE"],
        ["patterns", "show", "FILE", "--json", "--feet", "samba"],
        ["assess", "TAKE", "--pattern", "FILE"],
    ],
    "routines": [["routine", "FILE", "--check"]],
    "takes": [
        ["assess", "FILE", "--pattern", "flam"],
        ["replay", "FILE", "--pattern", "flam", "--plain"],
        ["patterns", "show", "FILE"],
    ],
}
"""Commands that read one file of a folder."""

WRITING = [
    ["advice"],
    ["goal", "add", "Overture", "--tempo", "140"],
    ["goal", "remove", "Overture"],
    ["kit", "latency", "kit-0", "--set", "5"],
    ["kit", "latency", "kit-0", "--keep"],
    ["history", "--svg", "OUT/history.svg"],
    ["replay", "--svg", "OUT/map.svg", "--summary-svg", "OUT/summary.svg"],
    ["patterns", "export", "PATTERN", "-o", "OUT/out.mid"],
    ["patterns", "export", "PATTERN", "-o", "OUT/out.txt"],
    ["sheet", "PATTERN", "-o", "OUT/out.musicxml"],
    ["play", "PATTERN", "--port", "simulated", "--fast", "--passes", "1"],
    ["ladder", "PATTERN", "--port", "simulated", "--fast", "--minutes", "0.2"],
    ["routine", "routine-0", "--port", "simulated", "--fast"],
    ["demo", "--fast", "--passes", "1"],
]

FOLDERS = {
    "recordings": ("session", 5),
    "kits": ("kit", 3),
    "patterns": ("pattern", 3),
    "routines": ("routine", 2),
    "takes": ("take", 1),
}


class TooLong(BaseException):
    """A command gave no answer in time."""


class Broken(Exception):
    """A command did what none may do."""


class Fuzz:
    """Fills homes and runs commands on them; `found` has the first fault of each place."""

    def __init__(self, seed: int, room: Path) -> None:
        self.dice, self.room = random.Random(seed), room
        self.examples = {name: kind.examples() for name, kind in strangers.KINDS.items()}
        self.runs: Counter[str] = Counter()
        self.statuses: Counter[int] = Counter()
        self.slowest = (0.0, "")
        self.found: dict[tuple[str, str, int], tuple[str, str]] = {}

    def home(self) -> Path:
        """Return a new home with files of every kind."""
        home = Path(tempfile.mkdtemp(dir=self.room))
        for folder, (kind, most) in FOLDERS.items():
            (home / folder).mkdir()
            for number in range(self.dice.randint(0, most)):
                name = f"{kind}-{number}{strangers.KINDS[kind].ending}"
                self._put(home / folder / name, kind)
        for other in ("tab", "MusicXML", "MIDI"):
            if self.dice.random() < 0.3:
                ending = strangers.KINDS[other].ending
                self._put(home / "patterns" / f"pattern-{other}{ending}", other)
        for name in ("goals", "settings"):
            if self.dice.random() < 0.5:
                self._put(home / f"{name}.toml", name)
        return home

    def _put(self, path: Path, kind: str) -> None:
        chance = self.dice.random()
        if chance < 0.03:
            path.mkdir()
        elif chance < 0.05:
            os.mkfifo(path)
        elif chance < 0.07:
            path.symlink_to("/dev/zero")
        else:
            data = self.dice.choice(self.examples[kind])
            path.write_bytes(data if chance > 0.75 else self.damaged(data))

    def damaged(self, data: bytes) -> bytes:
        """Return a file with some stretches cut, doubled, exchanged or put in."""
        for _ in range(self.dice.randint(1, 4)):
            start = self.dice.randint(0, len(data))
            end = min(len(data), start + self.dice.choice((0, 1, 3, 20, 200)))
            put = self.dice.choice((b"", data[start:end] * 2, *self.dice.choices(PUT_IN, k=3)))
            if self.dice.random() < 0.3 and (value := VALUE.search(data, start)):
                start, end = value.span(1)
                put = self.dice.choice(PUT_IN)
            data = data[:start] + put + data[end:]
        return data

    def try_home(self) -> None:
        """Run every command on one home."""
        home = self.home()
        os.environ["TRAINER_HOME"] = str(home)
        before = _contents(home)
        for words in self._reading(home):
            self._try(words, home)
        changed = [path for path, data in before.items() if not _still(path, data)]
        if changed:
            self._note(Broken(f"changed {changed[0].name}"), ["reading"], home)
        for words in WRITING:
            self._try([self._word(one, home) for one in words], home)
        shutil.rmtree(home, ignore_errors=True)

    def _reading(self, home: Path) -> Iterator[list[str]]:
        yield from READING
        for folder, commands in EACH.items():
            for path in sorted((home / folder).iterdir()):
                for words in commands:
                    named = {"FILE": str(path)}
                    yield [self._word(one, home, named) for one in words]

    def _word(self, word: str, home: Path, named: dict[str, str] | None = None) -> str:
        if named and word in named:
            return named[word]
        folders = {"OTHER": "recordings", "PATTERN": "patterns", "TAKE": "takes"}
        if word in folders:
            inside = sorted((home / folders[word]).iterdir())
            return str(self.dice.choice(inside)) if inside else "flam"
        return word.replace("OUT", str(home))

    def _try(self, words: list[str], home: Path) -> None:
        """Run one command, and keep what breaks it."""
        began = time.monotonic()
        signal.alarm(LIMIT_S)
        quiet = io.StringIO(), io.StringIO()
        try:
            with contextlib.redirect_stdout(quiet[0]), contextlib.redirect_stderr(quiet[1]):
                status = cli.run(list(words))
            if status not in (0, 1, 2):
                raise Broken(f"status {status}")
            self.statuses[status] += 1
        except SystemExit:
            pass
        except (Exception, TooLong) as error:  # noqa: BLE001
            self._note(error, words, home)
        finally:
            signal.alarm(0)
        self.runs[words[0]] += 1
        self.slowest = max(self.slowest, (time.monotonic() - began, " ".join(words)))

    def _note(self, error: BaseException, words: list[str], home: Path) -> None:
        steps = traceback.extract_tb(error.__traceback__)
        last = steps[-1] if steps else None
        file, line = (last.filename, last.lineno or 0) if last else ("", 0)
        place = (type(error).__name__, file, line)
        if place not in self.found:
            kept = self.room / f"broke-{len(self.found) + 1}"
            shutil.copytree(home, kept, symlinks=True, ignore=_no_pipes, dirs_exist_ok=True)
            self.found[place] = (" ".join(words), str(kept))
            print(*place, "|", error, "|", " ".join(words), "|", kept, flush=True)
            traceback.print_exception(error, limit=-6)

    def figures(self) -> str:
        """Return what was tried, and what came of it."""
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        return (
            f"{sum(self.runs.values())} commands, statuses {dict(sorted(self.statuses.items()))}, "
            f"{len(self.found)} faults; slowest {self.slowest[0]:.1f} s ({self.slowest[1][:80]}), "
            f"peak {peak} MB; {dict(self.runs)}"
        )


def _contents(home: Path) -> dict[Path, bytes]:
    """Return what is in the plain files of a home."""
    plain = (path for path in home.rglob("*") if path.is_file() and not path.is_symlink())
    return {path: path.read_bytes() for path in plain}


def _still(path: Path, data: bytes) -> bool:
    """Return whether a file is as it was; a session that was cut off may have been finished."""
    now = path.read_bytes() if path.is_file() else b""
    whole = data[: data.rfind(b"\n") + 1]
    return now == data or (path.suffix == ".jsonl" and now.startswith(whole))


def _no_pipes(folder: str, names: list[str]) -> list[str]:
    return [one for one in names if Path(folder, one).is_fifo()]


def _too_long(_number: int, _frame: FrameType | None) -> None:
    raise TooLong


def run(seconds: float, room: Path, seed: int, homes: int = 10**9) -> Fuzz:
    """Try homes for some seconds, at most so many; return what was found."""
    fuzz = Fuzz(seed, room)
    signal.signal(signal.SIGALRM, _too_long)
    end = time.monotonic() + seconds
    while time.monotonic() < end and homes > 0:
        fuzz.try_home()
        homes -= 1
    return fuzz


if __name__ == "__main__":
    folder = Path(sys.argv[2] if len(sys.argv) > 2 else "found")
    folder.mkdir(parents=True, exist_ok=True)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    print(run(float(sys.argv[1]), folder, seed).figures())
