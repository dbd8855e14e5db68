"""Two minutes of a player with independent jitter, without a fault or with one that was planted.

A fault is a function of the voice that the limb comes from and the target: so many ms late.
"""

from __future__ import annotations

import random
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.reading import read_take
from trainer.pattern.library import load_pattern
from trainer.practice.course import Course, Pass, seconds_per_quarter
from trainer.practice.matcher import judge

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.practice.course import Target

    Late = Callable[[str, Target], float]

LENGTH_S, JITTER_MS = 120.0, 7.0


def two_minutes(name: str, tempo: float) -> Course:
    """Two minutes of a pattern, the last pass broken off."""
    one = load_pattern(name)
    length_s = float(one.length) * seconds_per_quarter(one, tempo)
    passes = [Pass(n, tempo, 2.0 + n * length_s) for n in range(int(LENGTH_S // length_s) + 1)]
    passes[-1] = replace(passes[-1], end_s=2.0 + LENGTH_S)
    return Course(one, tuple(passes))


def summary(laid: Course, seed: int, late_ms: Late) -> dict:
    """The summary of one take; the same seed gives the same take."""
    dice, last, strikes = random.Random(seed), {}, []
    for one in laid.targets():
        note = one.note
        off_ms = dice.gauss(0.0, JITTER_MS) + late_ms(last.get(note.limb, ""), one)
        last[note.limb] = note.voice
        sent = GENERAL_MIDI.note(note.voice, note.zone)
        strikes.append(Strike(one.time_s + off_ms / 1000, sent, 85 + dice.randint(-6, 6)))
    strikes.sort(key=lambda one: one.time_s)
    return read_take(judge(laid, strikes, GENERAL_MIDI)).to_dict()


def even(_before: str, _target: Target) -> float:
    """No fault at all."""
    return 0.0


def slow_move(before: str, target: Target) -> float:
    """The right hand comes 12 ms late from the snare to the floor tom."""
    note = target.note
    return 12.0 * (note.limb == "RH" and before == "snare" and note.voice == "floor")


def loping(_before: str, target: Target) -> float:
    """The left hand comes 4 ms late: a long-short of 8 ms."""
    return 4.0 * (target.note.limb == "LH")
