"""A file from anybody, read whole: a plain file of a bounded size, never a pipe or a device."""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING

from trainer.errors import BadInput

if TYPE_CHECKING:
    from pathlib import Path
    from typing import BinaryIO


class NoSuchFile(BadInput):
    """There is no file of that name, which some callers expect."""


def open_plain(path: Path, largest: int, mend: str | None = None) -> BinaryIO:
    """Open a file of at most `largest` bytes for reading, without ever waiting for one.

    Raises BadInput, without the file's name, for what is no file, is larger, or cannot be opened.
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        fd = os.open(path, flags)
    except FileNotFoundError:
        raise NoSuchFile("there is no such file", mend="check its name") from None
    except (OSError, ValueError) as error:  # a ValueError is a name that no system knows
        reason = getattr(error, "strerror", None) or "its name cannot be used"
        raise BadInput(f"the file cannot be read ({reason})", mend="check its name") from None
    about = os.fstat(fd)
    file = os.fdopen(fd, "rb") if stat.S_ISREG(about.st_mode) else None
    if file is None:
        os.close(fd)
        raise BadInput("this is not a file", mend=mend or "name a file")
    if about.st_size > largest:
        file.close()
        raise BadInput(f"the file is larger than {_size(largest)}", mend=mend or "split it")
    return file


def read_bytes(path: Path, largest: int) -> bytes:
    """Return all of a file; raises BadInput as `open_plain` does.

    A file that grows meanwhile is read one byte beyond `largest` at most.
    """
    with open_plain(path, largest) as file:
        try:
            return file.read(largest + 1)
        except OSError as error:
            raise BadInput(f"the file cannot be read ({error.strerror})") from None


def read_text(path: Path, largest: int) -> str:
    """Return a text file whose size is bounded; a byte order mark is left out.

    Raises BadInput as `open_plain` does, and for what is no text in UTF-8.
    """
    try:
        return read_bytes(path, largest).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput("the file is not a text in UTF-8", mend="save it as UTF-8") from None


def _size(count: int) -> str:
    return f"{count // 2**20} MB" if count >= 2**20 else f"{count // 1000} kB"
