"""Kit files on disk: finding one by name or path, the one that is connected, and saving."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.checked import nearest
from trainer.errors import BadInput
from trainer.file_system import expand_home, is_file, read_text, user_folder, write_text
from trainer.kit import kit_file
from trainer.kit.model import GENERAL_MIDI, LONGEST_LATENCY_MS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trainer.kit.model import Kit

ENDING = ".toml"
LARGEST = 1_000_000
NAME = re.compile(r"[\w][\w .-]{0,60}")


def load(name_or_path: str) -> Kit:
    """Return a kit by its name in the player's kits folder, `general-midi`, or a file's path."""
    if name_or_path == GENERAL_MIDI.name:
        return GENERAL_MIDI
    given = expand_home(name_or_path)
    path = given if given.suffix == ENDING else user_folder("kits") / f"{name_or_path}{ENDING}"
    if not is_file(path):
        if given.suffix == ENDING:
            raise BadInput("there is no such kit file", where=str(given), fix="check the path")
        others = nearest(name_or_path, names())
        fix = f"learn it (trainer kit learn NAME --port PORT), or {others}"
        raise BadInput(f'there is no kit "{name_or_path[:60]}"', fix=fix)
    return _read(path)


def load_own(name_or_path: str) -> Kit:
    """Return one of the player's kits, as `load` does, to be changed and saved under its name.

    Raises BadInput for a file elsewhere: saving it would replace the player's kit of that name.
    """
    given, folder = expand_home(name_or_path), user_folder("kits")
    if given.suffix == ENDING and given.resolve().parent != folder.resolve():
        raise BadInput(
            "this kit is not in your kits folder",
            where=name_or_path[:200],
            fix=f"copy it to {folder} first",
        )
    return load(name_or_path)


def own_kit(name: str) -> Kit | None:
    """Return the player's own kit of this name, None where there is none yet."""
    return load(name) if is_file(user_folder("kits") / f"{name}{ENDING}") else None


def kits_on_same_port(kit: Kit) -> list[str]:
    """Return the player's other kits that name a port this one names too."""
    return [
        other.name
        for other in _readable()
        if other.name != kit.name
        and any(one.casefold() == two.casefold() for one in kit.ports for two in other.ports)
    ]


def names() -> list[str]:
    """Return the names of all kits: the player's own, and the one that ships."""
    return [*sorted(path.stem for path in _files()), GENERAL_MIDI.name]


def kit_for_port(port: str) -> Kit:
    """Return the kit whose file names a port as its own; the General MIDI kit where none does.

    A file names a port by any part of it, whatever the case. A file with faults is passed over.
    """
    for kit in _readable():
        if kit.names_port(port):
            return kit
    return GENERAL_MIDI


def save(kit: Kit) -> Path:
    """Write a kit into the player's kits folder, whole or not at all; return its path.

    What was written into its file by hand stays, comments and order too.
    """
    check_name(kit.name)
    path = user_folder("kits") / f"{kit.name}{ENDING}"
    source, before = "", None
    if is_file(path):
        source, before = read_text(path, LARGEST), _read(path)
    write_text(path, kit_file.kit_to_toml(kit, source, before), LARGEST)
    return path


def check_name(name: str) -> None:
    """Raise BadInput for a name that cannot be a kit's: one that leaves the folder, or is taken."""
    if name == GENERAL_MIDI.name:
        raise BadInput(f'"{name}" is the name of the kit that ships', fix="choose another")
    if not NAME.fullmatch(name):
        raise BadInput(
            f'"{name[:60]}" cannot be the name of a kit',
            fix="use letters, digits, blanks, dots and dashes",
        )


def with_latency(kit: Kit, latency_ms: float | None, option: str = "--latency") -> Kit:
    """Return the kit with another latency in ms (None: as it is); BadInput for one out of range."""
    if latency_ms is None:
        return kit
    if not abs(latency_ms) <= LONGEST_LATENCY_MS:
        raise BadInput(
            f"a latency of {latency_ms:g} ms is out of range",
            where=option,
            fix=f"choose one up to {LONGEST_LATENCY_MS:g}",
        )
    return replace(kit, latency_s=latency_ms / 1000)


def _files() -> list[Path]:
    folder = user_folder("kits")
    return sorted(folder.glob(f"*{ENDING}")) if folder.is_dir() else []


def _readable() -> Iterator[Kit]:
    """Yield the player's kits in the order of their names; a file with faults is passed over."""
    for path in _files():
        with suppress(BadInput):
            yield _read(path)


def _read(path: Path) -> Kit:
    try:
        return kit_file.kit_from_toml(read_text(path, LARGEST), path.stem)
    except BadInput as fault:
        raise fault.at(str(path)) from None
