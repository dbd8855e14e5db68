"""How long tests wait for what has to come: a bound against hanging, never a measure of speed.

A test says what comes and in which order. How soon, a busy machine decides.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

LIMIT_S = 120.0
"""Some hundred times what anything takes on an idle machine."""

Found = TypeVar("Found")


def until(
    condition: Callable[[], Found],
    what: str | Callable[[], str],
    wait: Callable[[], object] = lambda: time.sleep(0.02),
) -> Found:
    """Return what a condition gives once that is true; fail, with what never came, at the limit.

    `wait` passes the time between two looks.
    """
    end = time.monotonic() + LIMIT_S
    while not (found := condition()):
        if time.monotonic() > end:
            raise AssertionError(f"never came: {what if isinstance(what, str) else what()}")
        wait()
    return found
