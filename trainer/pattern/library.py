"""The pattern library: find, open, list, filter and save patterns.

A pattern is found by name in the player's own folder and among those that ship, or by a path that
ends in .toml, .mid, .midi, .musicxml, .mxl, .xml or .txt (tab). Listing reads each file's headings
and limbs only; nothing is laid out and the pattern language is not loaded, so a thousand files are
listed at once.
"""

from __future__ import annotations

import difflib
import os
import re
from collections import Counter
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import file_system
from trainer.errors import BadInput, TrainerError
from trainer.file_system import expand_home, is_file, path_exists, read_text, write_text
from trainer.pattern.handedness import OTHER_LIMB, mirrored, other_side
from trainer.pattern.language.changes import TAKEN, applied, split, written
from trainer.pattern.language.rows import with_way
from trainer.pattern.limbs import limbs_of_table, taken_names
from trainer.pattern.model import LIMB_NAMES, Limb
from trainer.toml_text import parse

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from trainer.kit.model import Kit
    from trainer.pattern.model import Pattern


MAX_BYTES = 2_000_000
MOST_BESIDE = 1000
_READERS = {
    ".mid": "trainer.pattern.formats.midi_read",
    ".midi": "trainer.pattern.formats.midi_read",
    ".musicxml": "trainer.pattern.formats.musicxml_read",
    ".mxl": "trainer.pattern.formats.musicxml_read",
    ".xml": "trainer.pattern.formats.musicxml_read",
    ".txt": "trainer.pattern.formats.tab_file",
}
"""The module whose `read(path)` opens a file, by its ending."""

MIDI = (".mid", ".midi")

ENDINGS = (".toml", *_READERS)


@dataclass(frozen=True, slots=True)
class PatternEntry:
    """What a list of patterns shows of one file.

    `limbs` are those the file writes for; `fault` is empty, or why the file cannot be read.
    """

    name: str
    title: str
    path: Path
    tags: tuple[str, ...] = ()
    level: int | None = None
    limbs: tuple[str, ...] = ()
    about: str = ""
    own: bool = False
    fault: str = ""


def load_pattern(name_or_path: str, kit: Kit | None = None) -> Pattern:
    """Return the pattern of a name or a path, with any changes written after it.

    Changes are those of `trainer.pattern.language.changes`, such as
    `single-paradiddle path="snare x3, tom2" feet=samba`.
    `bars=3-4` and `section=2` take a part of it (`trainer.pattern.phrase`). The notes of a MIDI
    file are those of `kit`, else General MIDI's. Limbs are those of the player's kit, right-handed
    or left-handed. Raises BadInput with the file and the place in it.
    """
    return for_own_kit(_Loader(kit).load(name_or_path))


def load_as_written(name_or_path: str) -> Pattern:
    """Return a pattern as `load_pattern` does, with the limbs of the usual, right-handed kit."""
    return _Loader(None).load(name_or_path)


def for_own_kit(pattern: Pattern) -> Pattern:
    """Return a pattern as written for the player's kit: mirrored where that is left-handed."""
    return mirrored(pattern) if is_left_handed() else pattern


def is_left_handed() -> bool:
    """Return whether the player's settings say that the kit is left-handed."""
    # Settings know of what counts as clean, which knows patterns: they cannot be loaded here.
    try:
        found = parse(read_text(file_system.user_folder("settings.toml"), MAX_BYTES))
    except BadInput:
        return False
    return found.get("left_handed") is True


MOST_INSIDE = 8
"""How deep patterns may take one another in."""


class _Loader:
    """Loads a pattern and those it takes in, each once; refuses one that takes itself in."""

    def __init__(self, kit: Kit | None) -> None:
        self.kit = kit
        self.known: dict[str, Pattern] = {}
        self.inside: list[Path] = []

    def load(self, name_or_path: str) -> Pattern:
        """Return the pattern of a name or path with its changes."""
        if name_or_path not in self.known:
            self.known[name_or_path] = self._load(name_or_path)
        return self.known[name_or_path]

    def _load(self, name_or_path: str) -> Pattern:
        beside = self.inside[-1].parent if self.inside else None
        path, changes = _file_and_changes(name_or_path, beside)
        taken = {key: changes.pop(key) for key in TAKEN if key in changes}
        pattern = self._read(path, changes)
        try:
            return _part(pattern, taken) if taken else pattern
        except BadInput as fault:
            raise fault.at(path.name) from None

    def _read(self, path: Path, changes: dict[str, str]) -> Pattern:
        if path.suffix.lower() in _READERS and changes.keys() <= {"hands"}:
            # These readers name the file in their faults themselves.
            ending = path.suffix.lower()
            own = {"kit": self.kit} if self.kit and ending in MIDI else {}
            pattern: Pattern = import_module(_READERS[ending]).read(path, **own)
            if changes:
                chosen = with_way(pattern, changes["hands"])
                return replace(chosen, name=pattern.name + written(changes))
            return pattern
        depth = len(self.inside)
        try:
            self._check_inside(path)
            self.inside.append(path)
            return _read(path, changes, self.load)
        except BadInput as fault:
            raise fault.at(path.name) from None
        finally:
            del self.inside[depth:]

    def _check_inside(self, path: Path) -> None:
        """Refuse a file that is being read already, or one too deep inside others."""
        if path in self.inside:
            raise BadInput("the pattern takes itself in", fix="name another one")
        if len(self.inside) > MOST_INSIDE:
            what = f"patterns take one another in more than {MOST_INSIDE} deep"
            raise BadInput(what, fix="write some of them out")


def _part(pattern: Pattern, taken: dict[str, str]) -> Pattern:
    """Return a part of a pattern, with a name that opens the same part again."""
    from trainer.pattern.phrase import excerpt

    return replace(excerpt(pattern, **taken), name=pattern.name + written(taken))


def title_of(name_or_path: str) -> str:
    """Return the title of a pattern; what it is called by where it cannot be read."""
    try:
        return load_pattern(name_or_path).title or name_or_path
    except TrainerError:
        return name_or_path


def pattern_file(name_or_path: str) -> Path:
    """Return the file that a pattern is read from, also where changes are written after its name.

    Raises BadInput where there is none.
    """
    return _file_and_changes(name_or_path)[0]


def _file_and_changes(name_or_path: str, beside: Path | None = None) -> tuple[Path, dict[str, str]]:
    name, changes = name_or_path, dict[str, str]()
    if not is_file(Path(name_or_path)):
        name, changes = split(name_or_path)
    return find_pattern(name, beside), changes


def find_pattern(name_or_path: str, beside: Path | None = None) -> Path:
    """Return the file of a name or of a path.

    Names are looked for in the folder `beside` (of the file that takes the pattern in), then among
    the player's own, then in what ships.
    """
    given = expand_home(name_or_path)
    if given.suffix.lower() in ENDINGS or len(given.parts) > 1:
        if not is_file(given):
            what, fix = "there is no such file", "check the path"
            if path_exists(given):
                what, fix = "this is not a file", "name a pattern file"
            raise BadInput(what, where=name_or_path[:200], fix=fix)
        if given.suffix.lower() not in ENDINGS:
            raise BadInput(
                f"a pattern ends in {', '.join(ENDINGS)}",
                where=name_or_path[:200],
                fix="rename it",
            )
        return given
    for folder in (beside, *pattern_folders()) if beside else pattern_folders():
        for ending in ENDINGS:
            path = folder / f"{name_or_path}{ending}"
            if name_or_path and is_file(path):
                return path
    near = difflib.get_close_matches(name_or_path[:80], _names(), 1)
    raise BadInput(
        f'there is no pattern "{name_or_path[:80]}"',
        fix=f'did you mean "{near[0]}"?' if near else "see trainer patterns list",
    )


def pattern_folders() -> tuple[Path, ...]:
    """Return the folders that are searched: the player's own, then the one that ships."""
    return file_system.user_folder("patterns"), file_system.shipped_folder("patterns")


def catalogue() -> list[PatternEntry]:
    """Return all patterns by name; the player's own comes before a shipped one of the same name."""
    found: dict[str, PatternEntry] = {}
    for path, own in _paths():
        found.setdefault(path.stem, _entry(path, own))
    entries = [found[name] for name in sorted(found)]
    return [*map(_left_handed, entries)] if is_left_handed() else entries


def _left_handed(entry: PatternEntry) -> PatternEntry:
    limbs = tuple(limb for limb in LIMB_NAMES if OTHER_LIMB[Limb(limb)] in entry.limbs)
    title, about = other_side(entry.title), other_side(entry.about)
    return replace(entry, title=title, about=about, limbs=limbs)


def save_beside(name: str, text: str) -> str:
    """Write a pattern file into the player's own folder under a name that is free; return that.

    Where one of these names has the same text already, nothing is written.
    """
    folder = pattern_folders()[0]
    for count in range(1, MOST_BESIDE):
        free = name if count == 1 else f"{name}-{count}"
        path = folder / f"{free}.toml"
        if not is_name_taken(free):
            save_pattern(free, text)
            return free
        if is_file(path) and _has_text(path, text):
            return free
    raise BadInput(f"there are {MOST_BESIDE} patterns of this name", where=name, fix="delete some")


def _has_text(path: Path, text: str) -> bool:
    try:
        return read_text(path, MAX_BYTES) == text
    except BadInput:
        return False


def save_pattern(name: str, text: str, *, over: bool = False) -> Path:
    """Write a pattern file into the player's own folder and return its path.

    The file appears whole or not at all. Raises BadInput for a name that cannot be one, or that is
    taken (unless `over`).
    """
    check_name(name)
    path = pattern_folders()[0] / f"{name}.toml"
    if is_name_taken(name) and not over:
        raise BadInput("there is such a pattern already", where=name, fix="choose another name")
    write_text(path, text, MAX_BYTES)
    return path


def check_name(name: str) -> None:
    """Raise BadInput for a name that no pattern can have."""
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]{0,79}", name):
        raise BadInput(f'"{name[:80]}" cannot be a name', fix="use letters, digits, - and _")


def is_name_taken(name: str) -> bool:
    """Return whether the player has a pattern file of a name already."""
    return os.path.lexists(pattern_folders()[0] / f"{name}.toml")


def read_table(path: Path) -> tuple[dict[str, Any], str]:
    """Return the parsed table of a TOML file and its text."""
    source = read_text(path, MAX_BYTES)
    return parse(source), source


def _read(path: Path, changes: dict[str, str], load: Callable[[str], Pattern]) -> Pattern:
    """Read a TOML file; with changes its name says them, so that the name opens the same again."""
    if path.suffix.lower() != ".toml":
        raise BadInput("only a TOML pattern can be changed", fix="leave the changes out")
    # Listing reads headings only and does not need the language.
    from trainer.pattern.language import notation
    from trainer.pattern.language.change_words import changed_title

    table, source = read_table(path)
    if not changes:
        return notation.read(table, path.stem, source, load)
    name = path.stem + written(changes)
    pattern = notation.read(applied(table, changes), name, load=load)
    if "title" in changes:
        return pattern
    return replace(pattern, title=changed_title(pattern.title, changes))


def _paths() -> Iterator[tuple[Path, bool]]:
    for own, folder in zip((True, False), pattern_folders(), strict=True):
        try:
            inside = list(folder.iterdir())
        except OSError:  # the player has no folder yet, or it cannot be looked into
            continue
        known = (path for path in inside if path.suffix.lower() in ENDINGS)
        for path in sorted(known, key=lambda path: (path.stem, ENDINGS.index(path.suffix.lower()))):
            if not path.name.startswith("."):
                yield path, own


def _names() -> list[str]:
    return [path.stem for path, _ in _paths()]


def _limbs(table: dict[str, Any]) -> tuple[str, ...]:
    """Return the limbs a file writes for, and those of the TOML patterns that it takes in."""
    used = {*limbs_of_table(table)}
    for name in taken_names(table):
        used |= _limbs_of_name(name)
    return tuple(limb for limb in ("RH", "LH", "RF", "LF") if limb in used)


def _limbs_of_name(name: str) -> set[str]:
    """Return the limbs of a TOML pattern that takes none in itself, else none."""
    try:
        path = find_pattern(name)
        table = read_table(path)[0] if path.suffix.lower() == ".toml" else {}
    except BadInput:
        return set()
    return set() if taken_names(table) else set(limbs_of_table(table))


def _entry(path: Path, own: bool) -> PatternEntry:
    """Return a file's line of the list from its headings, whatever state the rest is in."""
    if path.suffix.lower() != ".toml":
        return PatternEntry(path.stem, path.stem, path, ("file",), own=own)
    try:
        table, _ = read_table(path)
    except BadInput as fault:
        return PatternEntry(path.stem, path.stem, path, own=own, fault=str(fault.at(path.name)))
    tags, level = table.get("tags"), table.get("level")
    words = tags.split() if isinstance(tags, str) else tags if isinstance(tags, list) else []
    return PatternEntry(
        path.stem,
        _heading_text(table, "title") or path.stem,
        path,
        tuple(word for word in words if isinstance(word, str)),
        level if isinstance(level, int) and 1 <= level <= 5 else None,
        _limbs(table),
        _heading_text(table, "about"),
        own,
    )


def _heading_text(table: dict[str, Any], key: str) -> str:
    value = table.get(key)
    return value if isinstance(value, str) else ""


@dataclass(frozen=True, slots=True)
class PatternFilter:
    """What is looked for. Every word has to be in name, title, about or tags, every tag to be
    one of the pattern's; `level` None and `limb` "" take any.
    """

    words: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()
    level: int | None = None
    limb: str = ""

    def fits(self, entry: PatternEntry) -> bool:
        """Return whether a pattern is what is looked for."""
        if self.level not in (None, entry.level) or not set(self.tags) <= set(entry.tags):
            return False
        text = f"{entry.name} {entry.title} {entry.about} {' '.join(entry.tags)}".lower()
        limb_plays = not self.limb or self.limb in entry.limbs
        return limb_plays and all(word.lower() in text for word in self.words)


def tag_counts(entries: Iterable[PatternEntry]) -> dict[str, int]:
    """Return every tag and how many patterns have it, the commonest first, then by name."""
    found = Counter(tag for entry in entries for tag in entry.tags)
    return dict(sorted(found.items(), key=lambda one: (-one[1], one[0])))
