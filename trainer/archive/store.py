"""Session files on disk: open one, and read nothing that is no plain file of a bounded size."""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING

from trainer.archive import disk
from trainer.archive.ends import LONGEST_HEADER
from trainer.archive.parse import parse
from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path
    from typing import BinaryIO

    from trainer.archive.session import Session

LONGEST_FILE = 64 * 2**20
"""Bytes: more than a day of playing without a break at ten strokes a second."""


def open_session(path: Path) -> Session:
    """Return the session in a file; raises BadInput naming the file and the line."""
    try:
        with open_regular(path) as file:
            return parse(_lines(file))
    except BadInput as error:
        raise error.at(str(path)) from None


def open_regular(path: Path) -> BinaryIO:
    """Open a file for reading that is a file (no folder, pipe or device) and not too big."""
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        fd = os.open(path, flags)
    except FileNotFoundError:
        raise BadInput("there is no such file") from None
    except (OSError, ValueError) as error:
        reason = disk.why(error) if isinstance(error, OSError) else "the name is impossible"
        raise BadInput(f"the file cannot be opened: {reason}") from None
    if not stat.S_ISREG(os.fstat(fd).st_mode):
        os.close(fd)
        raise BadInput("this is not a file", mend="name a session that the trainer saved")
    file = os.fdopen(fd, "rb")
    if os.fstat(fd).st_size > LONGEST_FILE:
        file.close()
        raise BadInput(f"the file is larger than {LONGEST_FILE >> 20} MB")
    return file


def _lines(file: BinaryIO) -> Iterator[bytes]:
    """Lines of a file that may still be growing, none of them endless."""
    left = LONGEST_FILE
    while left > 0 and (line := file.readline(LONGEST_HEADER + 2)):
        left -= len(line)
        yield line
