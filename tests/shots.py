"""Screens as text at three sizes, compared with those that are kept: the layout is pinned.

A change that is meant: run with TRAINER_REDRAW=1, look at the difference, and keep it.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from stage import shown

if TYPE_CHECKING:
    from textual.pilot import Pilot

SHOTS = Path(__file__).parent / "screens" / "shots"
SIZES = [(80, 24), (120, 40), (200, 60)]

LOOKS = 100
"""How often a screen that differs is looked at again: a busy machine may draw a part late."""


def kept(name: str, size: tuple[int, int]) -> str:
    """Return the screen of this name and size that is kept."""
    return _path(name, size).read_text()


async def drawn(pilot: Pilot[object], name: str, size: tuple[int, int]) -> str:
    """Return what the screen shows once it is the one that is kept, or stands still for good."""
    text = await _still(pilot)
    if os.environ.get("TRAINER_REDRAW"):
        _path(name, size).write_text(text)
    for _ in range(LOOKS):
        if text == kept(name, size):
            break
        text = await _still(pilot)
    return text


def _path(name: str, size: tuple[int, int]) -> Path:
    return SHOTS / f"{name}-{size[0]}x{size[1]}.txt"


async def _still(pilot: Pilot[object]) -> str:
    """Return what the screen shows once two looks in a row agree (the footer comes last)."""
    before, text = "", shown(pilot.app)
    while text != before:
        await pilot.pause(0.1)
        before, text = text, shown(pilot.app)
    return text + "\n"
