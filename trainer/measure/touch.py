"""Touch: where on the pads the strokes land, and what was hit that nobody wrote.

- `rims`: per cent of the strokes that landed on their pad but on its rim where the head was
  written, over all, by voice and by limb.
- `zones`: per cent of the strokes that landed on their pad but on another zone of it than is
  written, by voice and zones ("snare head for rim", "hihat closed for open"), out of those whose
  zone the kit can tell; a rim for a head is in there too. What counts as another zone:
  `trainer.practice.zones`.
- `strays`, `doubles`: hits that belong to no target and double triggers, per 100 written strokes
  (so more than 100 is possible), and their number by the voice that was hit ("unknown pad" where
  the kit does not know it); what came before the first written stroke or after the last one is
  left out. Doubles are the kit's doing: mend them in the kit's set-up.
- `position`: mean strike position by voice, 0 is the middle and 1 the edge; only where the kit
  sends it, else empty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, mean, share, spread, withheld
from trainer.measure.frame import ZONES, groups
from trainer.practice.outcomes import DOUBLE, EXTRA, HIT_OUTCOMES, RIM

if TYPE_CHECKING:
    from trainer.measure.frame import Bools, Frame

UNKNOWN_PAD = "unknown pad"


@dataclass(frozen=True, slots=True)
class Position:
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
    position: dict[str, Position]


def touch(frame: Frame) -> Touch:
    """Measure where strokes land."""
    rim = np.zeros(len(frame.time_s), dtype=np.bool_)
    on_rim = frame.hit_target[(frame.hit_outcome == HIT_OUTCOMES.index(RIM))]
    rim[on_rim[on_rim >= 0]] = True
    played = frame.played
    return Touch(
        rims=share(int(np.count_nonzero(rim & played)), int(np.count_nonzero(played))),
        rims_by_voice=_rims(frame, rim, "voice"),
        rims_by_limb=_rims(frame, rim, "limb"),
        zones=_zones(frame),
        strays=_per_hundred(frame, EXTRA),
        strays_by_voice=_by_hit_voice(frame, EXTRA),
        doubles=_per_hundred(frame, DOUBLE),
        doubles_by_voice=_by_hit_voice(frame, DOUBLE),
        position=_positions(frame),
    )


def _rims(frame: Frame, rim: Bools, key: str) -> dict[str, Figure]:
    """Rims of each group; groups without a rim are left out, being all the same."""
    found = {
        frame.name(key, code): (int(np.count_nonzero(rim[those])), len(those))
        for code, those in groups(frame.codes(key), frame.played)
    }
    return {name: share(part, count) for name, (part, count) in found.items() if part}


def _zones(frame: Frame) -> dict[str, Figure]:
    """The share of each zone that came for another one, by its words."""
    size, found = len(ZONES), {}
    asked = frame.voice * size + frame.zone
    for code, those in groups(asked, frame.played & (frame.zone >= 0)):
        voice, written = divmod(code, size)
        for zone, there in groups(frame.landed[those], frame.landed[those] != written):
            name = f"{frame.name('voice', voice)} {ZONES[zone]} for {ZONES[written]}"
            found[name] = share(len(there), len(those))
    return found


def _per_hundred(frame: Frame, outcome: str) -> Figure:
    written = len(frame.time_s)
    if not written:
        return withheld("per 100", 0, "no strokes were written")
    of_kind = frame.hit_outcome == HIT_OUTCOMES.index(outcome)
    found = int(np.count_nonzero(of_kind & frame.hit_inside))
    return Figure(100 * found / written, "per 100", written)


def _by_hit_voice(frame: Frame, outcome: str) -> dict[str, int]:
    of_kind = (frame.hit_outcome == HIT_OUTCOMES.index(outcome)) & frame.hit_inside
    return {
        UNKNOWN_PAD if code < 0 else frame.name("voice", code): len(those)
        for code, those in groups(frame.hit_voice, of_kind)
    }


def _positions(frame: Frame) -> dict[str, Position]:
    known = frame.played & ~np.isnan(frame.position)
    return {
        frame.name("voice", code): Position(
            mean(frame.position[those], "of radius"), spread(frame.position[those], "of radius")
        )
        for code, those in groups(frame.voice, known)
    }
