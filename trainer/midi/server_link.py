"""Whether the MIDI server that a client belongs to still lives, by the sockets between the two.

A JACK server that ends leaves its clients the last list of ports for ever, and every call goes on
without an error. Asking it through a new client would tell, but after a failed try the JACK library
crashes when the old clients are closed. Its sockets hang up at once.

A new client of this process would still belong to the old server while any old one is open. So
whoever holds clients says so here, and all of them are given up together.
"""

from __future__ import annotations

import os
import select
import stat
import sys
from typing import Protocol
from weakref import WeakSet

Sockets = dict[int, tuple[int, int]]


def sockets() -> Sockets:
    """Return the sockets this process has open: descriptor and what it stands for."""
    found: Sockets = {}
    if sys.platform == "win32":
        return found
    for name in os.listdir("/dev/fd"):
        try:
            about = os.fstat(int(name))
        except OSError:  # the one that listed the folder
            continue
        if stat.S_ISSOCK(about.st_mode):
            found[int(name)] = (about.st_dev, about.st_ino)
    return found


class ServerLink:
    """The sockets that came with a client; `before` are those that were open before it."""

    def __init__(self, before: Sockets) -> None:
        new = {fd: known for fd, known in sockets().items() if before.get(fd) != known}
        self._sockets = {fd: known for fd, known in new.items() if not _hung_up(fd, known)}

    @property
    def broken(self) -> bool:
        """True once the server has gone; a client without sockets never tells."""
        return any(_hung_up(fd, known) for fd, known in self._sockets.items())


def _hung_up(fd: int, known: tuple[int, int]) -> bool:
    if sys.platform == "win32":
        return False
    try:
        about = os.fstat(fd)
    except OSError:
        return True
    watch = select.poll()
    watch.register(fd, 0)
    return (about.st_dev, about.st_ino) != known or bool(watch.poll(0))


class Holder(Protocol):
    """Somebody who holds clients of one MIDI system."""

    @property
    def api(self) -> str:
        """The MIDI system."""
        ...

    def give_up(self) -> None:
        """Let the clients go, to be made anew once there is a server."""
        ...


HOLDERS: WeakSet[Holder] = WeakSet()
"""All of this process that hold clients now."""


def give_up(api: str) -> None:
    """Let all clients of a MIDI system go."""
    for holder in list(HOLDERS):
        if holder.api == api:
            holder.give_up()
