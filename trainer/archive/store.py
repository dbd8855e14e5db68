"""Session files on disk: open one, and read nothing that is no plain file of a bounded size."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.archive.ends import LONGEST_HEADER
from trainer.archive.parse import parse
from trainer.errors import BadInput
from trainer.plain_file import open_plain

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
        with open_session_file(path) as file:
            return parse(_lines(file))
    except BadInput as error:
        raise error.at(str(path)) from None


def open_session_file(path: Path) -> BinaryIO:
    """Open the file of a session for reading; raises BadInput for what cannot be one."""
    return open_plain(path, LONGEST_FILE, "name a session that the trainer saved")


def _lines(file: BinaryIO) -> Iterator[bytes]:
    """Lines of a file that may still be growing, none of them endless."""
    left = LONGEST_FILE
    while left > 0 and (line := file.readline(LONGEST_HEADER + 2)):
        left -= len(line)
        yield line
