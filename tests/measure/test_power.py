"""Power: what should be equal, what should differ, and in which direction."""

from __future__ import annotations

import pytest
from handmade import course, judged, levels, line, pattern

from trainer.measure.reading import read_take
from trainer.pattern.model import Level

CYCLE = (Level.ACCENT, Level.NORMAL, Level.GHOST, Level.NORMAL)


def _accented(passes: int = 2):
    return course(levels(pattern(line("snare " * 16)), lambda i, note: CYCLE[i % 4]), passes)


def test_velocities_that_follow_the_page_are_even_and_contrast() -> None:
    """Accents at 110, ordinary at 80, ghosts at 40: nothing uneven, contrasts of +30 and -40."""
    loud = {Level.ACCENT: 110, Level.NORMAL: 80, Level.GHOST: 40}
    found = read_take(judged(_accented(), velocity=lambda t: loud[t.note.level])).power

    assert found.uneven.value == 0.0
    assert (found.accents.value, found.accents_right.value) == (30.0, 100.0)
    assert (found.ghosts.value, found.ghosts_right.value) == (-40.0, 100.0)


def test_accents_that_do_not_speak_have_no_right_side() -> None:
    """Accents softer than ordinary strokes are a minus contrast, none of them right."""
    soft = {Level.ACCENT: 70, Level.NORMAL: 80, Level.GHOST: 90}
    found = read_take(judged(_accented(), velocity=lambda t: soft[t.note.level])).power

    assert (found.accents.value, found.accents_right.value) == (-10.0, 0.0)
    assert (found.ghosts.value, found.ghosts_right.value) == (10.0, 0.0)


def test_an_accent_no_louder_than_the_rest_is_not_right() -> None:
    """Equal is not louder, and not softer."""
    found = read_take(judged(_accented(), velocity=lambda t: 80)).power

    assert (found.accents_right.value, found.ghosts_right.value) == (0.0, 0.0)


def test_without_levels_contrast_is_withheld() -> None:
    """A pattern without accents or ghosts has no contrast, and says why."""
    found = read_take(judged(course(pattern(line("snare " * 16))))).power

    assert found.accents.value is None
    assert found.accents.why == "no drum has both accents and ordinary strokes"


def test_balance_compares_hands_on_equal_terms() -> None:
    """Left 12 softer on the snare both share; the floor tom, right hand only, does not count."""
    laid = course(pattern(line("snare snare floor snare " * 4, limbs="RL")), 3)

    def strength(target) -> int:
        if target.note.voice == "floor":
            return 120
        return 90 if target.note.limb == "RH" else 78

    assert read_take(judged(laid, velocity=strength)).power.balance.value == pytest.approx(12.0)


def test_hands_that_share_no_voice_are_not_compared() -> None:
    """Right on the ride, left on the snare: no balance."""
    laid = course(pattern(line("ride snare " * 8, limbs="RL")))

    assert read_take(judged(laid)).power.balance.why == "the hands share no drum"


def test_uneven_is_the_spread_around_each_voice_and_level() -> None:
    """Two voices 30 apart, each alternating by 2 around its mean: pooled spread of about 2."""
    laid = course(pattern(line("snare snare tom1 tom1 " * 8, limbs="RL")), 4)
    found = read_take(
        judged(
            laid,
            velocity=lambda t: (80 if t.note.voice == "snare" else 110) + 4 * (t.note_index % 2),
        )
    ).power

    assert found.uneven.value == pytest.approx(2.0, rel=0.02)
