"""Touch: rims, strays, doubles, and the place on the pad."""

from __future__ import annotations

import pytest
from handmade import course, judged, walk

from trainer.measure.reading import read


def test_rims_are_a_share_of_the_strokes_that_landed() -> None:
    """One snare stroke in four on the rim: 25 % of the snare, fewer of the whole."""
    made = judged(
        course(walk(), 2),
        outcome=lambda t: "rim" if t.note.voice == "snare" and t.note_index % 4 == 0 else "played",
    )
    found = read(made).touch
    snare = [t for t in made.targets if t.note.voice == "snare"]
    rims = made.hit_outcome.count("rim")

    assert 0 < rims < len(snare)
    assert found.rims_by_voice["snare"].value == pytest.approx(100 * rims / len(snare))
    assert found.rims.value == pytest.approx(100 * rims / len(made.targets))
    assert set(found.rims_by_voice) == {"snare"}


def test_strays_and_doubles_are_told_by_the_voice_hit() -> None:
    """Three strays and one double on the snare, per 100 of 22 written strokes."""
    extras = [(2.1, "extra"), (2.2, "extra"), (2.3, "extra"), (2.4, "double")]
    found = read(judged(course(walk()), extras=extras)).touch

    assert found.strays_by_voice == {"snare": 3}
    assert found.doubles_by_voice == {"snare": 1}
    assert found.strays.value == pytest.approx(300 / 22)


def test_position_is_told_only_where_the_kit_sends_it() -> None:
    """Positions on the snare alone give the snare a place, and nothing else."""
    made = judged(course(walk(), 3), position=lambda t: 0.4 if t.note.voice == "snare" else None)
    found = read(made).touch

    assert set(found.position) == {"snare"}
    assert found.position["snare"].mean.value == pytest.approx(0.4)
    assert read(judged(course(walk()))).touch.position == {}
