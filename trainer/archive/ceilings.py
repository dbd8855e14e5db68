"""Ceilings from a folder's sessions: what each player's rungs of each pattern speak for."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from trainer.measure.ceiling import Rung, ceiling

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from trainer.archive.index import Entry
    from trainer.measure.ceiling import Ceiling

START_SHARE = 0.90
"""A ladder that is not told where to start begins at this share of the tempo at which three rungs
in four are clean: low enough to begin with a few clean ones. Our own choice."""

DAY_S = 86_400.0


def ceilings(entries: Iterable[Entry], now: datetime) -> dict[tuple[str, str], Ceiling]:
    """Return the ceiling of each (player, pattern name) that has rungs, as of a moment."""
    rungs: dict[tuple[str, str], list[Rung]] = defaultdict(list)
    for entry in entries:
        days_ago = (now - entry.started).total_seconds() / DAY_S
        if days_ago >= 0:
            rungs[entry.player, entry.pattern] += [
                Rung(tempo, clean, days_ago) for tempo, clean in entry.rungs
            ]
    found = {key: ceiling(played) for key, played in rungs.items()}
    return {key: one for key, one in found.items() if one is not None}


def ladder_start(found: Ceiling) -> float:
    """Return the tempo (whole BPM) a ladder begins at for a player with this ceiling."""
    return float(round(START_SHARE * found.three_quarters.tempo))
