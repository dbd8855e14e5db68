"""The player's own routines: files in a folder, found by name, and one to begin with."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.plain_file import expanded, is_there, write
from trainer.resources import user_folder
from trainer.toml_file import nearest

if TYPE_CHECKING:
    from pathlib import Path

ENDING = ".toml"
NAME = re.compile(r"[\w][\w .-]{0,60}")

EXAMPLE = """\
title = "{title}"

[[block]]
kind = "warm-up"              # a pattern at one tempo
pattern = "{pattern}"
minutes = 5                   # tempo = 60 plays it slower than it is written

[[block]]
kind = "ladder"               # begins a little below your ceiling; from = 70 sets it
pattern = "{pattern}"
minutes = 15                  # also: step, top, rule, clean_to_rise, passes

[[block]]
kind = "rest"
minutes = 3

[[block]]
kind = "free"                 # play what you like to the click
minutes = 7
"""


def known() -> list[Path]:
    """Return the files of the player's own routines, by name."""
    folder = user_folder("routines")
    return sorted(folder.glob(f"*{ENDING}")) if folder.is_dir() else []


def find(name_or_path: str) -> Path:
    """Return the file of a routine: a path, or the name of one in the player's folder."""
    given = expanded(name_or_path)
    if is_there(given) or given.suffix == ENDING:  # whoever reads it says what is wrong with it
        return given
    names = {path.stem: path for path in known()}
    if name_or_path not in names:
        raise BadInput(
            f'there is no routine "{name_or_path[:60]}"', mend=nearest(name_or_path, [*names])
        )
    return names[name_or_path]


def begin(name: str, pattern: str) -> Path:
    """Write a routine around a pattern, to be changed by hand; return where it is.

    Raises BadInput for a name that cannot be a file's, or that is taken.
    """
    check_name(name)
    path = user_folder("routines") / f"{name}{ENDING}"
    text = EXAMPLE.format(title=name, pattern=pattern)
    write(path, text.encode(), make_folder=True)
    return path


def check_name(name: str) -> None:
    """Raise BadInput for a name that leaves the folder or belongs to another routine."""
    if not NAME.fullmatch(name):
        raise BadInput(
            f'"{name[:60]}" cannot be the name of a routine',
            mend="use letters, digits, blanks, dots and dashes",
        )
    if name in [path.stem for path in known()]:
        raise BadInput(f'there is a routine "{name}" already', mend="choose another name")
