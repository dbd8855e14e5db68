"""Screens as text at three sizes, compared with those that are kept: the layout is pinned.

A change that is meant: run with TRAINER_REDRAW=1, look at the difference, and keep it.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING

from stage import shown

if TYPE_CHECKING:
    from textual.pilot import Pilot

SHOTS = Path(__file__).parent / "screens" / "shots"
SIZES = [(80, 24), (120, 40), (200, 60)]


async def compare(pilot: Pilot[object], name: str, size: tuple[int, int]) -> None:
    """Compare a screen, once it stands still, with the one that is kept; keep it when asked to."""
    path = SHOTS / f"{name}-{size[0]}x{size[1]}.txt"
    text = await _still(pilot)
    if os.environ.get("TRAINER_REDRAW"):
        path.write_text(text + "\n")
    end = time.monotonic() + 5.0
    while text + "\n" != path.read_text() and time.monotonic() < end:
        text = await _still(pilot)
    assert text + "\n" == path.read_text()


async def _still(pilot: Pilot[object]) -> str:
    """Return what the screen shows once two looks in a row agree (the footer comes last)."""
    before, text = "", shown(pilot.app)
    while text != before:
        await pilot.pause(0.1)
        before, text = text, shown(pilot.app)
    return text
