"""The ladder's up-down rule against Levitt 1971.

The two tracks are Levitt's figures 4 and 5 as coded in the test-suite of a published up-down
package. There a wrong response raises the level, so a level is minus our tempo's distance.
"""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from simulated_takes import clean_chance

from trainer.practice.ladder import ADAPTIVE, Ladder, Standing, first_standing, next_standing

FIGURE_4 = "CCIIIICCIIICCCCCIIICCIII"
LEVELS_4 = [0, -1, -2, -1, 0, 1, 2, 1, 0, 1, 2, 3, 2, 1, 0, -1, -2, -1, 0, 1, 0, -1, 0, 1]
FIGURE_5 = "CCCCICIICICCCCCIIICCCCCC"


def _track(ladder: Ladder, replies: str) -> list[Standing]:
    track = [first_standing(ladder)]
    for reply in replies:
        track.append(next_standing(ladder, track[-1], reply == "C"))
    return track


def test_one_up_one_down_walks_the_published_track() -> None:
    """Levitt 1971, figure 4: levels of the example; mid-points of runs 2, 4, 6 are 0, 1.5, -0.5."""
    ladder = Ladder(100.0, 1.0, rule=ADAPTIVE, clean_to_rise=1, smallest=1.0)
    track = _track(ladder, FIGURE_4)
    peaks = [100.0 - tempo for tempo in track[-1].reversals]
    middles = [(one + two) / 2 for one, two in pairwise(peaks)]

    assert [100.0 - standing.tempo for standing in track[:-1]] == LEVELS_4
    assert middles[0::2][:3] == [0.0, 1.5, -0.5]


def test_two_clean_to_rise_gives_the_published_mid_points() -> None:
    """Levitt 1971, figure 5: mid-points of runs 2 to 4 are 0.0, 1.0 and 1.5."""
    ladder = Ladder(100.0, 1.0, rule=ADAPTIVE, clean_to_rise=2, smallest=1.0)
    peaks = [100.0 - tempo for tempo in _track(ladder, FIGURE_5)[-1].reversals]

    assert [(one + two) / 2 for one, two in pairwise(peaks)][:3] == [0.0, 1.0, 1.5]


@pytest.mark.parametrize(("in_a_row", "share"), [(1, 0.5), (2, 0.707107), (3, 0.793701)])
def test_a_long_ladder_settles_where_levitt_says(in_a_row: int, share: float) -> None:
    """Levitt 1971: n clean in a row settle at p with p ** n = 1/2 (20,000 rungs, small steps)."""
    dice = random.Random(in_a_row)
    ladder = Ladder(120.0, 0.25, rule=ADAPTIVE, clean_to_rise=in_a_row, smallest=0.25)
    standing, chances = first_standing(ladder), []
    for _ in range(20_000):
        here = clean_chance(standing.tempo, 120.0, 5.0)
        chances.append(here)
        standing = next_standing(ladder, standing, dice.random() < here)

    assert sum(chances) / len(chances) == pytest.approx(share, abs=0.01)
