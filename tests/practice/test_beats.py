"""Beats and the clicks on and between them."""

import pytest

from trainer.practice.course import ACCENT_CLICK, BEAT_CLICK, BETWEEN_CLICK, PLAYING, Beat


def test_first_beat_of_a_bar_is_accented():
    """The bar's first beat has its own kind of click, the others share one."""
    kinds = [Beat(0.0, PLAYING, 0, beat, 4, 0.5).clicks(1, False)[0].kind for beat in range(4)]
    assert kinds == [ACCENT_CLICK, BEAT_CLICK, BEAT_CLICK, BEAT_CLICK]


@pytest.mark.parametrize("parts", [1, 2, 3, 4])
def test_subdivisions_divide_the_beat_evenly(parts):
    """A beat of several clicks has them evenly apart, all but the first of the lesser kind."""
    clicks = Beat(10.0, PLAYING, 0, 1, 4, 0.6).clicks(parts, False)
    assert [click.time_s for click in clicks] == pytest.approx(
        [10.0 + 0.6 * k / parts for k in range(parts)]
    )
    assert [click.kind for click in clicks] == [BEAT_CLICK] + [BETWEEN_CLICK] * (parts - 1)


def test_silence_holds_for_the_whole_beat():
    """A silent beat leaves all of its clicks out."""
    assert all(click.silent for click in Beat(0.0, PLAYING, 0, 0, 4, 0.5).clicks(3, True))
