"""Offsets: what is told of how they creep, and from how much playing."""

from __future__ import annotations

import pytest
from handmade import course, judged, line, pattern

from trainer.measure.offset import DRIFT_LEAST_S
from trainer.measure.reading import read_take


def drift(seconds: int):
    """Return the drift of quarter notes at 60 BPM that fall behind by 1 ms a second."""
    laid = course(pattern(line("snare " * (seconds + 1), value="4")), tempo=60)
    return read_take(judged(laid, offset_ms=lambda target: target.time_s)).offset.drift


def test_a_drift_needs_playing_long_enough() -> None:
    """A slope of a few seconds says nothing of a minute; the reason says how long it takes."""
    short = drift(8)
    assert short.value is None
    assert short.why == f"needs {DRIFT_LEAST_S:g} s of playing, has 8"
    assert drift(32).value == pytest.approx(60.0)
