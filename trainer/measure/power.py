"""Power: MIDI velocity (1 to 127) of the strokes, and whether accents and ghosts are as written.

Only main strokes on the right pad count. Velocity is the kit's own scale: curves differ from kit to
kit and from pad to pad, so figures compare within one kit, and strokes within one voice.

- `uneven`: spread of velocity among strokes that should be equal, that is around the mean of each
  voice and level, in steps of velocity.
- `balance`: right hand minus left hand at equal voice and level, in steps; plus: the right is
  louder. Only voices and levels that both hands play count.
- `accents`, `ghosts`: mean velocity of accents minus ordinary strokes, of ghosts minus ordinary
  strokes, each at equal voice. Right is plus for accents and minus for ghosts.
- `dynamics`: steps of velocity from one mark (p, mp, mf) to the next, at equal voice and level;
  plus: louder where it is written louder. Everything else but the means is taken after that slope
  is out, so that dynamics do not make equal strokes uneven.
- `dynamics_right`: percentage of crescendos and diminuendos whose second half is louder (softer)
  than the first.
- `voices`: each voice of the hands minus their other voices, at equal level.
- `accents_right`, `ghosts_right`: percentage of accents louder (ghosts softer) than the mean of the
  ordinary strokes of their voice.

Differences are taken within blocks of some 24 strokes (`trainer.measure.stroke_block`), so that a
player who slowly gets louder and softer does not blur them.

Touch: where on the pads the strokes land, and what was hit that nobody wrote.

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

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import (
    SPREAD_COUNT,
    Figure,
    mean,
    share,
    spread,
    spread_figure,
    spread_memory,
    too_few,
    withheld,
)
from trainer.measure.stroke_block import difference_within, stroke_blocks
from trainer.measure.take_arrays import LEFT_HAND, LEVELS, LIMBS, RIGHT_HAND, ZONES, indexes_by_code
from trainer.measure.trend import robust_slope
from trainer.pattern.as_played import MARK_STEP
from trainer.practice.arrays import average
from trainer.practice.outcomes import DOUBLE, EXTRA, HIT_OUTCOMES, RIM

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints


VELOCITY_UNIT = "velocity"
GHOST, NORMAL, ACCENT = (LEVELS.index(level) for level in ("ghost", "normal", "accent"))


@dataclass(frozen=True, slots=True)
class Loudness:
    """Mean and spread of velocity of one group of strokes."""

    mean: Figure
    spread: Figure


@dataclass(frozen=True, slots=True)
class Power:
    """Velocity of the whole take and by limb, voice and level; what the head of this file says."""

    mean: Figure
    uneven: Figure
    balance: Figure
    accents: Figure
    accents_right: Figure
    ghosts: Figure
    ghosts_right: Figure
    by_limb: dict[str, Loudness]
    by_voice: dict[str, Loudness]
    by_level: dict[str, Loudness]
    voices: dict[str, Figure]
    dynamics: Figure
    dynamics_right: Figure


def power(take: TakeArrays) -> Power:
    """Measure the velocities of a take."""
    cell = take.voice * len(LEVELS) + take.level
    loud, take = take, _without_dynamics(take, dynamics := _dynamics(take, cell))
    played, velocity = take.played, take.velocity
    accents, accents_right = _contrast(take, ACCENT)
    ghosts, ghosts_right = _contrast(take, GHOST)
    return Power(
        mean=mean(loud.velocity[played], VELOCITY_UNIT),
        uneven=_uneven(velocity[played], cell[played]),
        balance=_balance(take, cell),
        accents=accents,
        accents_right=accents_right,
        ghosts=ghosts,
        ghosts_right=ghosts_right,
        by_limb=_loudness_by(take, "limb"),
        by_voice=_loudness_by(take, "voice"),
        by_level=_loudness_by(take, "level"),
        voices=voice_gaps(take),
        dynamics=dynamics,
        dynamics_right=_dynamics_right(loud),
    )


def _dynamics(take: TakeArrays, cell: Ints) -> Figure:
    """Return the steps of velocity from one mark of dynamics to the next, at equal voice and level.

    It is the robust slope of `trainer.measure.trend`.
    """
    marks = take.louder / MARK_STEP
    cells = [those for _, those in indexes_by_code(cell, take.played) if np.ptp(marks[those]) > 0]
    if not cells:
        return withheld(VELOCITY_UNIT, 0, "no dynamics are written")
    return robust_slope([(marks[those], take.velocity[those]) for those in cells], VELOCITY_UNIT)


def _without_dynamics(take: TakeArrays, slope: Figure) -> TakeArrays:
    """Return a take with its velocities as they would be at mf, so that equal strokes are equal."""
    if slope.value is None:
        return take
    return replace(take, velocity=take.velocity - slope.value / MARK_STEP * take.louder)


def _dynamics_right(take: TakeArrays) -> Figure:
    """Return in how many crescendos and diminuendos the velocity moved as written, in percent."""
    inside = take.played & (take.hairpin >= 0)
    right = count = 0
    for _, those in indexes_by_code(take.row * (len(take.note) + 1) + take.hairpin, inside):
        way = take.louder[those[-1]] - take.louder[those[0]]
        half = len(those) // 2
        if half and way:
            moved = average(take.velocity[those[-half:]]) - average(take.velocity[those[:half]])
            count += 1
            right += bool(moved * way > 0)
    if not count:
        return withheld("%", 0, "no crescendo or diminuendo is written")
    return share(right, count, "crescendos")


def _loudness_by(take: TakeArrays, key: str) -> dict[str, Loudness]:
    return {
        take.name(key, code): Loudness(
            mean(take.velocity[those], VELOCITY_UNIT), spread(take.velocity[those], VELOCITY_UNIT)
        )
        for code, those in indexes_by_code(take.codes(key), take.played)
    }


def _uneven(velocity: Floats, cell: Ints) -> Figure:
    """Pooled standard deviation around each cell's mean, of strokes in time order."""
    _, cell = np.unique(cell, return_inverse=True)
    several = (np.bincount(cell) > 1)[cell] if len(cell) else np.zeros(0, np.bool_)
    rest = (velocity - group_means(velocity, cell))[several]
    count, cells = len(rest), len(np.unique(cell[several]))
    free = count - cells
    if free < SPREAD_COUNT - 1:
        return too_few(VELOCITY_UNIT, count, SPREAD_COUNT + max(0, cells - 1))
    sd = math.sqrt(math.fsum((rest * rest).tolist()) / free)
    return spread_figure(sd, VELOCITY_UNIT, count, free / spread_memory(rest))


def _balance(take: TakeArrays, cell: Ints) -> Figure:
    """Right minus left over the cells that both hands play, after each cell's own middle."""
    right, left = (take.played & (take.limb == hand) for hand in (RIGHT_HAND, LEFT_HAND))
    both = np.intersect1d(cell[right], cell[left])
    if not len(both):
        return withheld(VELOCITY_UNIT, 0, "the hands share no drum")
    middle = np.zeros(int(cell.max()) + 1)
    for code in both:
        hands = [take.velocity[hand & (cell == code)] for hand in (right, left)]
        middle[code] = sum(average(one) for one in hands) / 2
    those = np.flatnonzero((right | left) & np.isin(cell, both))
    rest = take.velocity[those] - middle[cell[those]]
    return difference_within(rest, right[those], stroke_blocks(take)[those], VELOCITY_UNIT)


def _contrast(take: TakeArrays, level: int) -> tuple[Figure, Figure]:
    """A level minus ordinary strokes at equal voice, and the share that is on the right side."""
    special, plain = (take.played & (take.level == one) for one in (level, NORMAL))
    name = "accents" if level == ACCENT else "ghosts"
    voices = np.intersect1d(take.voice[special], take.voice[plain])
    if not len(voices):
        why = f"no drum has both {name} and ordinary strokes"
        return withheld(VELOCITY_UNIT, 0, why), withheld("%", 0, why)
    base = np.zeros(int(take.voice.max()) + 1)
    for code in voices:
        base[code] = average(take.velocity[plain & (take.voice == code)])
    those = np.flatnonzero((special | plain) & np.isin(take.voice, voices))
    over, inside = take.velocity[those] - base[take.voice[those]], special[those]
    right = np.count_nonzero(over[inside] > 0 if level == ACCENT else over[inside] < 0)
    return (
        difference_within(over, inside, stroke_blocks(take)[those], VELOCITY_UNIT),
        share(int(right), int(np.count_nonzero(inside)), name),
    )


def voice_gaps(take: TakeArrays, *, by_hand: bool = False) -> dict[str, Figure]:
    """Return each voice of the hands minus the hands' other voices at equal level, in steps.

    With `by_hand` each hand is compared with itself alone.
    """
    those = np.flatnonzero(take.played & ~take.foot)
    voices = take.voice[those]
    if len(np.unique(voices)) < 2:
        return {}
    alike = take.level[those] * len(LIMBS) + (take.limb[those] if by_hand else 0)
    cell = stroke_blocks(take)[those] * len(LEVELS) * len(LIMBS) + alike
    velocity = take.velocity[those] - group_means(take.velocity[those], alike)
    return {
        take.name("voice", code): _voice_gap(velocity, voices == code, alike, cell)
        for code in np.unique(voices).tolist()
    }


def _voice_gap(velocity: Floats, inside: Bools, alike: Ints, cell: Ints) -> Figure:
    """One voice minus the others, of strokes that are alike in everything else."""
    shared = np.isin(alike, np.intersect1d(alike[inside], alike[~inside]))
    if not shared.any():
        return withheld(VELOCITY_UNIT, int(inside.sum()), "no other drum has strokes like these")
    return difference_within(velocity[shared], inside[shared], cell[shared], VELOCITY_UNIT)


def group_means(values: Floats, codes: Ints) -> Floats:
    """Return the mean of each value's group."""
    _, back = np.unique(codes, return_inverse=True)
    sums: Floats = np.bincount(back, weights=values) / np.bincount(back)
    return sums[back] if len(values) else values


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
