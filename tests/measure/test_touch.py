"""Touch: rims, strays, doubles, and the place on the pad."""

from __future__ import annotations

import pytest
from handmade import course, judged, walk

from trainer.measure.reading import read_take
from trainer.show.reading_words import reading_lines


def test_rims_are_a_share_of_the_strokes_that_landed() -> None:
    """One snare stroke in four on the rim: 25 % of the snare, fewer of the whole."""
    made = judged(
        course(walk(), 2),
        outcome=lambda t: "rim" if t.note.voice == "snare" and t.note_index % 4 == 0 else "played",
    )
    found = read_take(made).touch
    snare = [t for t in made.targets if t.note.voice == "snare"]
    rims = made.hit_outcome.count("rim")

    assert 0 < rims < len(snare)
    assert found.rims_by_voice["snare"].value == pytest.approx(100 * rims / len(snare))
    assert found.rims.value == pytest.approx(100 * rims / len(made.targets))
    assert set(found.rims_by_voice) == {"snare"}


def test_strays_and_doubles_are_reported_by_the_voice_hit() -> None:
    """Three strays and one double on the snare, per 100 of 22 written strokes."""
    extras = [(2.1, "extra"), (2.2, "extra"), (2.3, "extra"), (2.4, "double")]
    found = read_take(judged(course(walk()), extras=extras)).touch

    assert found.strays_by_voice == {"snare": 3}
    assert found.doubles_by_voice == {"snare": 1}
    assert found.strays.value == pytest.approx(300 / 22)


def test_position_is_reported_only_where_the_kit_sends_it() -> None:
    """Positions on the snare alone give the snare a place, and nothing else."""
    made = judged(course(walk(), 3), position=lambda t: 0.4 if t.note.voice == "snare" else None)
    found = read_take(made).touch

    assert set(found.position) == {"snare"}
    assert found.position["snare"].mean.value == pytest.approx(0.4)
    assert read_take(judged(course(walk()))).touch.position == {}


def test_what_comes_before_the_start_and_after_the_end_is_kept_apart() -> None:
    """Stick clicks and noodling are in no share and no doubt; the text says how many there were."""
    laid = course(walk())  # from 2.0 s to 4.25 s
    clicks = [(0.1 + 0.2 * at, "extra") for at in range(8)]
    noodling = [(4.7 + 0.1 * at, "extra") for at in range(20)]
    made = judged(laid, extras=[*clicks, (3.01, "extra"), *noodling])
    found = read_take(made)

    assert (found.counts.before, found.counts.extra, found.counts.after) == (8, 1, 20)
    assert found.touch.strays_by_voice == {"snare": 1}
    assert found.touch.strays.value == pytest.approx(100 / len(made.targets))
    assert found.doubt == ""
    reported = "\n".join(reading_lines(found.to_dict()))
    assert "1 stray stroke, 8 strokes before the start, 20 strokes after the end." in reported


def test_a_stray_just_before_the_first_stroke_is_the_players() -> None:
    """Within half a quarter note of the first stroke a hit may have been meant for it."""
    found = read_take(judged(course(walk()), extras=[(1.8, "extra")]))
    assert (found.counts.before, found.counts.extra) == (0, 1)
