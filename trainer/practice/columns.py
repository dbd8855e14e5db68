"""A whole take as columns: one array for each thing the matching needs of targets and of hits."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.practice import likelihood as like
from trainer.practice.due_list import Due
from trainer.practice.follower import Blow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit
    from trainer.practice.course import Target

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

LEVELS = ("ghost", "normal", "accent")


class Names(dict[Any, int]):
    """Small whole numbers for names, in the order they are first met."""

    def numbers(self, names: Sequence[Any]) -> Ints:
        """Return the numbers of names, new ones included."""
        for name in dict.fromkeys(names):
            self.setdefault(name, len(self))
        return np.array([self[name] for name in names], np.int64)


@dataclass(frozen=True)
class Take:
    """Targets and hits in time order; voices, limbs, levels and pads as small whole numbers."""

    due_s: Floats
    due_voice: Ints
    due_limb: Ints
    due_level: Ints
    hit_s: Floats
    hit_voice: Ints
    hit_pad: Ints
    velocity: Floats
    voices: tuple[str | None, ...]
    limbs: tuple[str | None, ...]

    @cached_property
    def by_voice(self) -> list[tuple[Ints, Ints]]:
        """The places of the targets and of the hits of each voice."""
        return [
            (np.flatnonzero(self.due_voice == voice), np.flatnonzero(self.hit_voice == voice))
            for voice in range(len(self.voices))
        ]

    @cached_property
    def due_kind(self) -> Ints:
        """Voice and level of each target in one number."""
        return self.due_voice * len(LEVELS) + self.due_level

    @cached_property
    def pad_cost(self) -> Floats:
        """The cost of a struck voice (row) where another was due (column)."""
        return np.array([[like.pad(one, str(two)) for two in self.voices] for one in self.voices])

    def dues(self, places: Ints) -> list[Due]:
        """Return some targets as the follower takes them."""
        return [
            Due(time_s, str(self.voices[voice]), self.limbs[limb], LEVELS[level])
            for time_s, voice, limb, level in zip(
                self.due_s[places].tolist(),
                self.due_voice[places].tolist(),
                self.due_limb[places].tolist(),
                self.due_level[places].tolist(),
                strict=True,
            )
        ]

    def blows(self, places: Ints) -> list[Blow]:
        """Return some hits as the follower takes them."""
        return [
            Blow(time_s, self.voices[voice], pad, velocity)
            for time_s, voice, pad, velocity in zip(
                self.hit_s[places].tolist(),
                self.hit_voice[places].tolist(),
                self.hit_pad[places].tolist(),
                self.velocity[places].tolist(),
                strict=True,
            )
        ]


def take_of(targets: Sequence[Target], hits: Sequence[Hit]) -> tuple[Take, Ints, Ints]:
    """Return a take, and where its targets and its hits stand in the sequences.

    Hits that the kit's filter marked are left out: they take no target.
    """
    due_s = np.array(list(map(_TIME, targets)), float)
    hit_s = np.array(list(map(_TIME, hits)), float)
    due_place = np.argsort(due_s, kind="stable")
    heard = np.argsort(hit_s, kind="stable")
    heard = heard[~np.array([bool(hit.flag) for hit in hits], bool)[heard]]
    notes = list(map(_NOTE, targets))
    struck = list(map(_VOICE, hits))
    voices, limbs = Names(), Names()
    take = Take(
        due_s=due_s[due_place],
        due_voice=voices.numbers(list(map(_VOICE, notes)))[due_place],
        due_limb=limbs.numbers(list(map(_LIMB, notes)))[due_place],
        due_level=Names(_LEVELS).numbers(list(map(_LEVEL, notes)))[due_place],
        hit_s=hit_s[heard],
        hit_voice=voices.numbers(struck)[heard],
        hit_pad=Names().numbers(
            [voice or note for voice, note in zip(struck, map(_NOTE, hits), strict=True)]
        )[heard],
        velocity=np.array(list(map(_VELOCITY, hits)), float)[heard],
        voices=tuple(voices),
        limbs=tuple(limbs),
    )
    return take, due_place, heard


_TIME, _NOTE, _VOICE, _LIMB, _LEVEL, _VELOCITY = map(
    attrgetter, ("time_s", "note", "voice", "limb", "level", "velocity")
)
_LEVELS = {name: number for number, name in enumerate(LEVELS)}
