"""Touch: where on the pads the strokes land, and what was hit that nobody wrote.

- `rims`: percentage of the strokes that landed on their pad but on its rim where the head was
  written, over all, by voice and by limb.
- `zones`: percentage of the strokes that landed on their pad but on another zone of it than is
  written, by voice and zones ("snare head for rim", "hihat closed for open"), out of those whose
  zone the kit can report; a rim for a head is in there too. What counts as another zone:
  `trainer.practice.outcomes`.
- `strays`, `doubles`: hits that belong to no target and double triggers, per 100 written strokes
  (so more than 100 is possible), and their number by the voice that was hit ("unknown pad" where
  the kit does not know it). Hits before the first written stroke or after the last one are left
  out. Doubles are made by the kit: fix them in the kit's set-up.
- `position`: mean strike position by voice, 0 is the middle and 1 the edge; only where the kit
  sends it, else empty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, mean, share, spread, withheld
from trainer.measure.take_arrays import ZONES, indexes_by_code
from trainer.practice.outcomes import DOUBLE, EXTRA, HIT_OUTCOMES, RIM

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools

UNKNOWN_PAD = "unknown pad"


@dataclass(frozen=True, slots=True)
class StrikePosition:
    """Mean and spread of strike positions, 0 (middle) to 1 (edge)."""

    mean: Figure
    spread: Figure


@dataclass(frozen=True, slots=True)
class Touch:
    """Rims, strays, doubles and positions, as the head of this file says."""

    rims: Figure
    rims_by_voice: dict[str, Figure]
    rims_by_limb: dict[str, Figure]
    zones: dict[str, Figure]
    strays: Figure
    strays_by_voice: dict[str, int]
    doubles: Figure
    doubles_by_voice: dict[str, int]
    position: dict[str, StrikePosition]


def touch(take: TakeArrays) -> Touch:
    """Measure where strokes land."""
    rim = np.zeros(len(take.time_s), dtype=np.bool_)
    on_rim = take.hit_target[(take.hit_outcome == HIT_OUTCOMES.index(RIM))]
    rim[on_rim[on_rim >= 0]] = True
    played = take.played
    return Touch(
        rims=share(int(np.count_nonzero(rim & played)), int(np.count_nonzero(played))),
        rims_by_voice=_rims(take, rim, "voice"),
        rims_by_limb=_rims(take, rim, "limb"),
        zones=_zones(take),
        strays=_per_hundred(take, EXTRA),
        strays_by_voice=_hits_by_voice(take, EXTRA),
        doubles=_per_hundred(take, DOUBLE),
        doubles_by_voice=_hits_by_voice(take, DOUBLE),
        position=_positions(take),
    )


def _rims(take: TakeArrays, rim: Bools, key: str) -> dict[str, Figure]:
    """Rims of each group; groups without a rim are left out, being all the same."""
    found = {
        take.name(key, code): (int(np.count_nonzero(rim[those])), len(those))
        for code, those in indexes_by_code(take.codes(key), take.played)
    }
    return {name: share(part, count) for name, (part, count) in found.items() if part}


def _zones(take: TakeArrays) -> dict[str, Figure]:
    """The share of each zone that came for another one, by its words."""
    size, found = len(ZONES), {}
    asked = take.voice * size + take.zone
    for code, those in indexes_by_code(asked, take.played & (take.zone >= 0)):
        voice, written = divmod(code, size)
        for zone, there in indexes_by_code(take.landed[those], take.landed[those] != written):
            name = f"{take.name('voice', voice)} {ZONES[zone]} for {ZONES[written]}"
            found[name] = share(len(there), len(those))
    return found


def _per_hundred(take: TakeArrays, outcome: str) -> Figure:
    written = len(take.time_s)
    if not written:
        return withheld("per 100", 0, "no strokes were written")
    of_kind = take.hit_outcome == HIT_OUTCOMES.index(outcome)
    found = int(np.count_nonzero(of_kind & take.hit_inside))
    return Figure(100 * found / written, "per 100", written)


def _hits_by_voice(take: TakeArrays, outcome: str) -> dict[str, int]:
    of_kind = (take.hit_outcome == HIT_OUTCOMES.index(outcome)) & take.hit_inside
    return {
        UNKNOWN_PAD if code < 0 else take.name("voice", code): len(those)
        for code, those in indexes_by_code(take.hit_voice, of_kind)
    }


def _positions(take: TakeArrays) -> dict[str, StrikePosition]:
    known = take.played & ~np.isnan(take.position)
    return {
        take.name("voice", code): StrikePosition(
            mean(take.position[those], "of radius"), spread(take.position[those], "of radius")
        )
        for code, those in indexes_by_code(take.voice, known)
    }
