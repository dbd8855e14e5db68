"""What is said of a bar and of a pause, in words a drummer understands."""

from __future__ import annotations

import pytest
from stage import pattern

from trainer.practice import events
from trainer.show.plain_text import PlainText


def bar(mean_s: float | None, spread_s: float | None) -> events.BarEnded:
    """Return the end of a bar of which three strokes of sixteen were played."""
    return events.BarEnded(0, 0, 16, 3, 9, 0, 0, {"snare": 13}, {}, mean_s, spread_s)


@pytest.mark.parametrize(("mean_s", "spread_s"), [(-0.770, 0.02), (0.01, 0.4), (0.2, None)])
def test_strokes_that_fit_nothing_are_said_to(mean_s: float, spread_s: float | None) -> None:
    """Offsets no player has by mistake mean another tempo or pattern; they are no figures."""
    lines = PlainText(pattern(), None).lines(bar(mean_s, spread_s))
    assert " ".join(map(str.strip, lines)) == (
        "Bar 1: 3 of 16 played; this does not fit what is written: another tempo or pattern?"
    )
    assert max(map(len, lines)) <= 79


def test_a_poor_bar_keeps_its_figures() -> None:
    """A bar played badly is still reported with mean and spread."""
    line = " ".join(map(str.strip, PlainText(pattern(), None).lines(bar(-0.06, 0.05))))
    assert line.startswith("Bar 1: 3 of 16 played, 60 ms early on average, spread 50 ms; missed")


@pytest.mark.parametrize(
    ("reason", "reported"),
    [("pressed", "Paused."), ("Stage Kit:drums is gone", "Paused: Stage Kit:drums is gone.")],
)
def test_a_pause_says_why_where_nobody_asked(reason: str, reported: str) -> None:
    """Who pressed the key knows; names keep their letters."""
    assert PlainText(pattern(), None).lines(events.Paused(1.0, reason)) == [reported]
