"""A ladder's last rungs as one row: each tempo with a sign for clean or not, then the one to come.

Pure: it gets the rungs' ends as events and gives inked text.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.practice.events import RungEnded
    from trainer.screens.ink import Line

CLEAN, NOT_CLEAN = "✓", "✗"


def row(rungs: Sequence[RungEnded], columns: int, *, coming: bool = True) -> Line:
    """Return as many of the last rungs as fit into a width, the newest on the right.

    `coming` adds the tempo that the last of them leads to.
    """
    if not rungs:
        return ()
    last = rungs[-1]
    following = last.next_tempo if coming else None
    ahead = f"→ {following:g}" if following is not None else ""
    head = f"rung {last.rung + 1}  "
    room = columns - len(head) - len(ahead)
    shown: list[tuple[str, str]] = []
    for one in reversed(rungs):
        text = f"{one.tempo:g}{CLEAN if one.clean else NOT_CLEAN} "
        if len(text) > room:
            break
        room -= len(text)
        shown.insert(0, (text, "centre" if one.clean else "missed"))
    return ((head, "faint"), *shown, (ahead, "strong"))


def first(tempo: float) -> Line:
    """Return the row of a ladder whose first rung is played."""
    return (("rung 1  ", "faint"), (f"→ {tempo:g}", "strong"))


def left(block: str, seconds_left: float | None) -> str:
    """Return the place in a routine and the time left in words: `block 2 of 4, 3 min left`."""
    time = minutes(seconds_left)
    return ", ".join(part for part in (block, f"{time} left" if time else "") if part)


def minutes(seconds_left: float | None) -> str:
    """Return the time to the bell in words: `12 min`, `40 s`, nothing where there is no bell."""
    if seconds_left is None:
        return ""
    return f"{seconds_left / 60:.0f} min" if seconds_left >= 90 else f"{seconds_left:.0f} s"
