"""Files and folders: read within a bound, written whole or not at all, and where they are kept.

Whatever a player names may be a folder, a pipe, a device, endless or not there. Nothing here waits
for such a thing, fills the memory with it, or puts a file in its place. What the disk refuses is
explained in plain words. The folders are those that ship with the program and the player's own.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
import sys
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import BadInput, Failure

if TYPE_CHECKING:
    from typing import BinaryIO


_REASONS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EFBIG: "the file has reached its size limit",
    errno.EROFS: "the disk is read-only",
    errno.EACCES: "no permission",
    errno.EPERM: "no permission",
    errno.ENOTDIR: "a part of its path is not a folder",
    errno.EEXIST: "a part of its path is not a folder",
    errno.EISDIR: "it is a folder",
    errno.ENAMETOOLONG: "its name is too long",
    errno.EIO: "the disk does not answer",
}

_NO_PLACE = (errno.ENOENT, errno.ENOTDIR, errno.EISDIR, errno.ENAMETOOLONG, errno.EINVAL)


def disk_reason(error: OSError | ValueError, missing: str = "there is no such folder") -> str:
    """Return in plain words why the disk refused; a ValueError is a name no file can have.

    `missing` is said of what is not there: to a writer the folder, to a reader the file.
    """
    if isinstance(error, ValueError):
        return "the name is not allowed"
    if error.errno == errno.ENOENT:
        return missing
    return _REASONS.get(error.errno or 0) or (error.strerror or "the disk refused").lower()


def is_file(path: Path) -> bool:
    """Return True for a file that is there; False too for a name that no file can have."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def path_exists(path: Path) -> bool:
    """Return True for a file, folder or device; False for a name that none of them can have."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def free_path(wanted: Path) -> Path:
    """Return a path that no file has yet."""
    number = 2
    place = wanted
    while path_exists(place):
        place = wanted.with_name(f"{wanted.stem}-{number}{wanted.suffix}")
        number += 1
    return place


def expand_home(name: str) -> Path:
    """Return the path of a name a player gave; `~` means the home folder.

    Raises BadInput for a name that no file can have.
    """
    try:
        os.fsencode(name)
        valid = "\0" not in name
    except UnicodeEncodeError:
        valid = False
    if not valid:
        raise BadInput("no file can have this name", where=name[:200], fix="check the path")
    try:
        return Path(name).expanduser()
    except RuntimeError:  # the home folder of nobody
        return Path(name)


class NoSuchFile(BadInput):
    """There is no file of that name, which some callers expect."""


def open_file(path: Path, largest: int, fix: str | None = None) -> BinaryIO:
    """Open a file of at most `largest` bytes for reading, without ever waiting for one.

    Raises BadInput, without the file's name, for what is no file, is larger, or cannot be opened.
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        fd = os.open(path, flags)
    except FileNotFoundError:
        raise NoSuchFile("there is no such file", fix="check its name") from None
    except (OSError, ValueError) as error:  # a ValueError is a name that no system knows
        raise BadInput(
            f"the file cannot be read ({disk_reason(error)})", fix="check its name"
        ) from None
    about = os.fstat(fd)
    file = os.fdopen(fd, "rb") if stat.S_ISREG(about.st_mode) else None
    if file is None:
        os.close(fd)
        raise BadInput("this is not a file", fix=fix or "name a file")
    if about.st_size > largest:
        file.close()
        raise BadInput(f"the file is larger than {_size_text(largest)}", fix=fix or "split it")
    return file


def read_bytes(path: Path, largest: int) -> bytes:
    """Return all of a file; raises BadInput as `open_plain` does.

    A file that grows meanwhile is read one byte beyond `largest` at most.
    """
    with open_file(path, largest) as file:
        try:
            return file.read(largest + 1)
        except OSError as error:
            raise BadInput(
                f"the file cannot be read ({disk_reason(error)})", fix="try again"
            ) from None


def read_text(path: Path, largest: int) -> str:
    """Return a text file whose size is bounded; a byte order mark is left out.

    Raises BadInput as `open_plain` does, and for what is no text in UTF-8.
    """
    try:
        return read_bytes(path, largest).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput("the file is not UTF-8 text", fix="save it as UTF-8") from None


def write_text(path: Path, text: str, largest: int) -> None:
    """Put a text file of the program's own in place, which `read_text` will read with this bound.

    Raises BadInput for one that is larger, so that nothing is written that cannot be read back.
    """
    data = text.encode()
    if len(data) > largest:
        raise BadInput(
            f"the file would be larger than {_size_text(largest)}",
            where=str(path),
            fix="take something out of it",
        )
    write_file(path, data, own=True)


OWN_FILE, OWN_FOLDER, SHARED_FILE = 0o600, 0o700, 0o666
"""Rights of new files and folders: for the player alone, and for all whom the system lets in."""


def make_own_folder(folder: Path) -> None:
    """Make a folder of the player's, and those above it; nobody else looks into what is new."""
    missing = [one for one in (folder, *folder.parents) if not one.is_dir()]
    for one in reversed(missing):
        one.mkdir(OWN_FOLDER, exist_ok=True)


def write_file(path: Path, data: bytes, *, own: bool = False) -> None:
    """Put a whole file in place; BadInput for a place no file can have, Failure of the disk.

    `own` is for the folders that the program keeps, which are made and where files are for the
    player alone. A folder that a player names has to be there.
    """
    try:
        if own:
            make_own_folder(path.parent)
        replace_file(path, data, OWN_FILE if own else SHARED_FILE)
    except (OSError, ValueError) as error:
        kind = BadInput if getattr(error, "errno", errno.EINVAL) in _NO_PLACE else Failure
        raise kind(
            f"the file cannot be written: {disk_reason(error)}",
            where=str(path),
            fix="choose another place",
        ) from None


def replace_file(path: Path, data: bytes, rights: int = OWN_FILE) -> None:
    """Put a whole file in place at once: after a crash it is the old one or the new one.

    `rights` are those of a new one; one that is replaced keeps its own. A link stays one: what it
    leads to is replaced. Raises OSError, also for what is no plain file.
    """
    path = Path(os.path.realpath(path))
    kept = _file_rights(path)
    beside = path.with_name(f".{path.name[:100]}-{secrets.token_hex(4)}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        with os.fdopen(os.open(beside, flags, rights), "wb") as file:
            file.write(data)
            file.flush()
            sync_file(file.fileno())
        if kept is not None:
            beside.chmod(kept)
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def _file_rights(path: Path) -> int | None:
    """Return who may do what with a file that is to be replaced, None where there is none yet."""
    try:
        about = path.stat()
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(about.st_mode):
        raise OSError(errno.EINVAL, "it is not a plain file")
    return stat.S_IMODE(about.st_mode)


def sync_file(fd: int) -> None:
    """Have the disk itself keep what was written."""
    if sys.platform == "darwin":
        import fcntl

        # fsync alone leaves the data in the drive's own cache there.
        with contextlib.suppress(OSError):
            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
            return
    os.fsync(fd)


def sync_folder(folder: Path) -> None:
    """Have the disk keep the folder's list of names, where the system knows how."""
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def _size_text(count: int) -> str:
    return f"{count // 1000} kB" if count % 2**20 else f"{count // 2**20} MB"


def shipped_folder(kind: str) -> Path:
    """Return the folder that comes with the program: `patterns` or `recordings`.

    In a wheel it is inside the package; in a checkout (also an editable install) beside it.
    Raises Failure when the installation lost it.
    """
    inside = Path(str(files("trainer"))) / "_data" / kind
    if inside.is_dir():
        return inside
    beside = Path(__file__).resolve().parent.parent / kind
    if beside.is_dir():
        return beside
    raise Failure(f"the {kind} folder that comes with the program is missing", fix="install again")


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
