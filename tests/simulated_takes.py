"""Two-minute takes of players whose errors are known, for what intervals claim.

Errors of four kinds, all of standard deviation `sd` from a mean of 0, in the order of strokes:

- *white*: each stroke for itself;
- *wander*: 60 % of the variance remembers 0.98 of itself from stroke to stroke (AR(1)), the rest is
  white;
- *pink*: the same share of 1/f noise (a stretch of a series eight times as long);
- *limbs*: as *wander*, each limb for itself.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
from handmade import course, judged, walk
from scipy.signal import lfilter

from trainer.measure.take_arrays import TakeArrays, take_arrays

KINDS = ("white", "wander", "pink", "limbs")
SD_MS, SD_POWER = 9.0, 9.0
SLOW_SHARE, KEEP = 0.6, 0.98


def errors(rng: np.random.Generator, kind: str, trials: int, limb: np.ndarray) -> np.ndarray:
    """Errors of unit variance, shaped (trials, strokes), for strokes of these limbs in order."""
    count = len(limb)
    white = rng.normal(size=(trials, count))
    if kind == "white":
        return white
    if kind == "limbs":
        slow = np.empty((trials, count))
        for one in np.unique(limb):
            slow[:, limb == one] = _slow(rng, "wander", trials, count)[:, limb == one]
    else:
        slow = _slow(rng, kind, trials, count)
    return math.sqrt(SLOW_SHARE) * slow + math.sqrt(1 - SLOW_SHARE) * white


def _slow(rng: np.random.Generator, kind: str, trials: int, count: int) -> np.ndarray:
    if kind == "wander":
        driven = rng.normal(size=(trials, count + 400)) * math.sqrt(1 - KEEP**2)
        return lfilter([1.0], [1.0, -KEEP], driven, axis=1)[:, 400:]
    waves = np.fft.rfft(rng.normal(size=(trials, 8 * count)), axis=1)
    number = np.arange(1, waves.shape[1])
    waves[:, 1:] /= np.sqrt(number)
    waves[:, 0] = 0
    scale = math.sqrt(2 * np.sum(1 / number) / (8 * count))
    return np.fft.irfft(waves, 8 * count, axis=1)[:, :count] / scale


@cache
def still_take(bars: int = 50) -> TakeArrays:
    """Two minutes of fives and threes in sixteenths at 100 BPM, everything in time at power 80."""
    return take_arrays(judged(course(walk(), bars), velocity=lambda target: 80))


def takes(seed: int, kind: str, trials: int, frame: TakeArrays | None = None) -> list[TakeArrays]:
    """The still take with errors of a kind in time and, drawn apart, in power."""
    frame = still_take() if frame is None else frame
    rng = np.random.default_rng(seed)
    time = SD_MS * errors(rng, kind, trials, frame.limb)
    power = SD_POWER * errors(rng, kind, trials, frame.limb)
    return [
        replace(frame, offset_ms=frame.offset_ms + one, velocity=frame.velocity + other)
        for one, other in zip(time, power, strict=True)
    ]


def clean_chance(tempo: float, middle: float, scale: float) -> float:
    """The chance of a clean rung at a tempo (all BPM) on a curve with that middle and scale."""
    return 1.0 / (1.0 + math.exp(min(max((tempo - middle) / scale, -700.0), 700.0)))
