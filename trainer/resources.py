"""Where things live on disk: what ships with the program, and the player's own folders."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

from trainer.errors import Failure


def shipped(kind: str) -> Path:
    """Return the folder that comes with the program: `patterns` or `recordings`.

    In a wheel it lies inside the package; in a checkout (also an editable install) beside it.
    Raises Failure when the installation lost it.
    """
    inside = Path(str(files("trainer"))) / "_data" / kind
    if inside.is_dir():
        return inside
    beside = Path(__file__).resolve().parent.parent / kind
    if beside.is_dir():
        return beside
    raise Failure(f"the {kind} folder that comes with the program is missing", mend="install again")


def user_folder(kind: str) -> Path:
    """Return the player's own folder of a kind (`recordings`, `patterns`, `kits`, ...).

    TRAINER_HOME, when set, is the parent of all of them; else the platform's user data folder.
    The folder is not created here.
    """
    home = os.environ.get("TRAINER_HOME")
    if home:
        return Path(home) / kind
    from platformdirs import user_data_path

    return user_data_path("midi-kit-trainer", appauthor=False) / kind
