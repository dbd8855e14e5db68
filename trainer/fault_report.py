"""Faults of our own: what nobody foresaw becomes one sentence, and a file with the details.

Only `trainer.__main__`, the practice loop's process and the screens catch such a fault. Nothing
below them does, so that tests meet it as it is. The file holds the versions and the traceback, no
arguments, no settings and nothing of a session; the player reads it and decides where it goes.
"""

from __future__ import annotations

import os
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import Failure

if TYPE_CHECKING:
    from collections.abc import Callable

MOST_REPORTS = 100
"""Files kept; later faults are in the last one."""

LONGEST_REPORT = 100_000


def reported(error: BaseException) -> Failure:
    """Write a report about a fault; return the sentence that says what it was and where that is."""
    path = _written(report_text(error))
    return Failure(
        f"this is a fault in the program ({fault_words(error)})",
        fix=f"please send the file {path}" if path else "please describe what you did",
    )


def fault_words(error: BaseException) -> str:
    """Return the kind of a fault and the line it is in, without anything that was read or typed."""
    import traceback

    steps = traceback.extract_tb(error.__traceback__)
    last = f", {Path(steps[-1].filename).name} line {steps[-1].lineno}" if steps else ""
    return f"{type(error).__name__}{last}"


def report_text(error: BaseException) -> str:
    """Return what a report says; the home folder's name in it is put as `~`."""
    import platform
    import traceback

    from trainer import __version__

    about = f"kit trainer {__version__}, Python {platform.python_version()}, {platform.platform()}"
    lines = "".join(traceback.format_exception(error))
    text = f"{about}\n\n{lines[-LONGEST_REPORT:]}"
    return text.replace(str(Path.home()), "~") if Path.home() != Path("/") else text


def watch_threads(
    say: Callable[[Failure], object], nobody_looks: Callable[[], bool] = lambda: False
) -> None:
    """Report what ends a thread of this process, in place of a traceback over the screen.

    Where nobody looks any more, a thread ends because it cannot write: that is no fault.
    """

    def ended(fault: threading.ExceptHookArgs) -> None:
        if fault.exc_value is not None and not nobody_looks():
            say(reported(fault.exc_value))

    threading.excepthook = ended


def _written(text: str) -> Path | None:
    """Put a report into the player's folder, else into the system's for passing files."""
    import tempfile

    from trainer.file_system import make_own_folder, user_folder

    for folder in (user_folder("reports"), Path(tempfile.gettempdir())):
        try:
            make_own_folder(folder)
            return _put(folder, text.encode("utf-8", "replace"))
        except (OSError, ValueError):
            continue
    return None


def _put(folder: Path, data: bytes) -> Path:
    """Write a report under the next free name; a link of that name is never followed."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
    for count in range(1, MOST_REPORTS + 1):
        path = folder / f"trainer-fault-{count}.txt"
        if count == MOST_REPORTS:
            path.unlink(missing_ok=True)
        try:
            fd = os.open(path, flags, 0o600)
        except FileExistsError:
            continue
        with os.fdopen(fd, "wb") as file:
            file.write(data)
        return path
    raise FileExistsError(folder)
