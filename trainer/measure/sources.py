"""Where the spread comes from: the player's clock or the player's hands.

Two models, each where it holds, limb by limb:

- `silent`: strokes in stretches where the click was silent, an unbroken even run of one limb
  (`trainer.measure.wing`);
- `click`: strokes on the written beats while the click sounds, one limb, beat after beat
  (`trainer.measure.phase`).

A limb that plays has an entry in both; figures that cannot be told are None and say why. Stretches
are (start, end) in seconds on the session's clock, the end left out. A run breaks at a missed
stroke, at a change of note value or tempo, and where the strokes stand unevenly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import withheld
from trainer.measure.frame import UNSAID, groups
from trainer.measure.phase import PhaseCorrection, phase_correction
from trainer.measure.wing import TwoLevel, two_level

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.frame import Bools, Floats, Frame, Ints

UNEVEN = 0.01
"""Largest difference between two written distances that counts as even, as a share of them."""


@dataclass(frozen=True, slots=True)
class Sources:
    """Both models by limb."""

    silent: dict[str, TwoLevel]
    click: dict[str, PhaseCorrection]


def sources(frame: Frame, silent: Sequence[tuple[float, float]] = ()) -> Sources:
    """Split the spread of each limb into timekeeper and hand, where that can be told."""
    without = _inside(frame.time_s, silent)
    found = Sources({}, {})
    for code, strokes in groups(frame.limb, frame.main):
        limb = frame.name("limb", code)
        if limb == UNSAID:
            continue
        quiet = strokes[without[strokes]]
        found.silent[limb] = _without_click(frame, quiet) if len(silent) else _always_clicked()
        clicked = strokes[~without[strokes] & frame.on_beat[strokes]]
        runs = [run for run in _runs(frame, clicked) if _beat_after_beat(frame, run)]
        found.click[limb] = phase_correction([frame.offset_ms[run] for run in runs])
    return found


def _without_click(frame: Frame, strokes: Ints) -> TwoLevel:
    return two_level(
        [np.diff(frame.time_s[run] * 1000 + frame.offset_ms[run]) for run in _runs(frame, strokes)]
    )


def _always_clicked() -> TwoLevel:
    why = "the click was never silent"
    return TwoLevel(withheld("ms", 0, why), withheld("ms", 0, why), withheld("", 0, why))


def _inside(time_s: Floats, stretches: Sequence[tuple[float, float]]) -> Bools:
    inside = np.zeros(len(time_s), dtype=np.bool_)
    for start, end in stretches:
        inside |= (time_s >= start) & (time_s < end)
    return inside


def _beat_after_beat(frame: Frame, run: Ints) -> bool:
    beat = float(frame.beat_s[run[0]])
    return abs(float(frame.time_s[run[1]] - frame.time_s[run[0]]) - beat) < UNEVEN * beat


def _runs(frame: Frame, strokes: Ints) -> list[Ints]:
    """Cut the strokes of a limb into unbroken, evenly written runs of played strokes.

    `strokes` are all that were written, so that a missed one leaves a hole and not a longer step.
    """
    if not len(strokes):
        return []
    apart = np.diff(frame.time_s[strokes])
    whole = frame.played[strokes]
    joined = whole[1:] & whole[:-1] & (apart > 0)
    joined &= frame.value[strokes[1:]] == frame.value[strokes[:-1]]
    joined &= frame.tempo[strokes[1:]] == frame.tempo[strokes[:-1]]
    starts = np.flatnonzero(~joined) + 1
    runs = []
    for run in np.split(np.arange(len(strokes)), starts):
        steps = apart[run[:-1]]
        turns = np.flatnonzero(np.abs(np.diff(steps)) > UNEVEN * steps[:-1]) + 1
        runs += [strokes[part] for part in np.split(run, turns + 1)]
    return [run for run in runs if len(run) > 2]
