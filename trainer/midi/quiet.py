"""Keeps C libraries from writing over the screen.

The ALSA and JACK libraries write to standard error by themselves, past Python, whenever something
is not there. Their words come back as exceptions anyway.
"""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


def silence() -> None:
    """For the rest of this process let only Python itself write to standard error.

    The JACK library has threads of its own that complain whenever the server goes away.
    """
    try:
        sys.stderr = os.fdopen(os.dup(2), "w", buffering=1)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
    except OSError:  # a program without a standard error has nothing to tear
        return


@contextmanager
def quiet() -> Iterator[None]:
    """Send whatever is written to file descriptor 2 meanwhile to nowhere."""
    try:
        kept = os.dup(2)
    except OSError:  # a program without a standard error has nothing to tear
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


@contextmanager
def apart() -> Iterator[None]:
    """Give Python's standard error a descriptor of its own meanwhile, and file descriptor 2 none.

    A screen that is drawn there then neither shows what libraries write nor loses what is drawn
    while `quiet` holds, whichever thread looks for ports.
    """
    try:
        kept, own = os.dup(2), os.fdopen(os.dup(2), "w", buffering=1, encoding="utf-8")
        nowhere = os.open(os.devnull, os.O_WRONLY)
    except OSError:  # a program without a standard error has nothing to tear
        yield
        return
    before = sys.stderr, sys.__stderr__
    sys.stderr = own
    sys.__stderr__ = own  # type: ignore[misc]
    os.dup2(nowhere, 2)
    os.close(nowhere)
    try:
        yield
    finally:
        own.flush()
        os.dup2(kept, 2)
        os.close(kept)
        sys.stderr = before[0]
        sys.__stderr__ = before[1]  # type: ignore[misc]
        own.close()
