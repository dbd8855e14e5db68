"""Offsets: what is said of how they creep, and from how much playing."""

from __future__ import annotations

import pytest
from handmade import course, judged, line, pattern, player, walk

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


def test_a_fitted_start_has_no_mean_offset() -> None:
    """A start found from the strokes swallows how late they all are: only that is withheld."""
    made = judged(course(walk(), 4), offset_ms=player(1, 8.0, 25.0))
    given, fitted = read_take(made).offset, read_take(made, start_fitted=True).offset

    assert given.mean.low < 25.0 < given.mean.high
    for one in (fitted.mean, *(limb.mean for limb in fitted.by_limb.values())):
        assert one.value is None
        assert "start was fitted" in one.why
    assert fitted.spread == given.spread
    assert fitted.drift == given.drift
