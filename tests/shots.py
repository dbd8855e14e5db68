"""Screens as text at three sizes, compared with those that are kept: the layout is pinned.

A change that is meant: run with TRAINER_REDRAW=1, look at the difference, and keep it.
"""

from __future__ import annotations

import os
from pathlib import Path

SHOTS = Path(__file__).parent / "screens" / "shots"
SIZES = [(80, 24), (120, 40), (200, 60)]


def compare(name: str, size: tuple[int, int], text: str) -> None:
    """Compare a screen with the one that is kept; keep it when asked to."""
    path = SHOTS / f"{name}-{size[0]}x{size[1]}.txt"
    if os.environ.get("TRAINER_REDRAW"):
        path.write_text(text + "\n")
    assert text + "\n" == path.read_text()
