"""Which hits a kit made by itself."""

from __future__ import annotations

from trainer.kit.hits import (
    CrosstalkRule,
    DoubleRule,
    FilterRules,
    Hit,
    HitFilter,
    mark_early_crosstalk,
)

RULES = FilterRules(
    {"snare": DoubleRule(0.012, 0.6)},
    (CrosstalkRule("floor", "tom1", 0.006, 0.4), CrosstalkRule("snare", "tom1", 0.004, 0.3)),
)


def _flags(*played: tuple[float, str | None, int]) -> list[str]:
    """Flags of hits given as (ms, voice, velocity), marked in order."""
    marks = HitFilter(RULES)
    return [
        marks.mark(Hit(index, ms / 1000, 0, velocity, voice)).flag
        for index, (ms, voice, velocity) in enumerate(played)
    ]


def test_a_soft_second_note_at_once_is_a_double() -> None:
    """Within the time and soft enough: a double; too late or too loud: a stroke."""
    assert _flags((0, "snare", 100), (10, "snare", 50)) == ["", "double"]
    assert _flags((0, "snare", 100), (13, "snare", 50)) == ["", ""]
    assert _flags((0, "snare", 100), (10, "snare", 70)) == ["", ""]


def test_a_double_does_not_hide_the_next_stroke() -> None:
    """Marked hits mark nothing: times and velocities count from the last real stroke."""
    assert _flags((0, "snare", 100), (8, "snare", 40), (16, "snare", 20)) == ["", "double", ""]


def test_a_flam_stays() -> None:
    """Grace stroke, then the louder main stroke: both are strokes, however close."""
    assert _flags((0, "snare", 40), (9, "snare", 100)) == ["", ""]


def test_a_shaken_pad_is_crosstalk_only_under_a_harder_stroke() -> None:
    """Each pair has its own time and ratio; a voice nobody named is never marked."""
    assert _flags((0, "floor", 110), (3, "tom1", 30)) == ["", "crosstalk"]
    assert _flags((0, "floor", 60), (3, "tom1", 30)) == ["", ""]
    assert _flags((0, "snare", 110), (5, "tom1", 30)) == ["", ""]
    assert _flags((0, "floor", 110), (3, "ride", 30)) == ["", ""]
    assert _flags((0, "floor", 110), (3, None, 30)) == ["", ""]


def test_crosstalk_that_speaks_first_is_found_in_the_whole_take() -> None:
    """A shaken pad a scan ahead of the struck one is marked when the take is read again."""
    hits = [Hit(0, 0.0, 0, 30, "tom1"), Hit(1, 0.002, 0, 110, "floor"), Hit(2, 0.5, 0, 30, "tom1")]

    assert [hit.flag for hit in mark_early_crosstalk(hits, RULES)] == ["crosstalk", "", ""]


def test_no_rules_mark_nothing() -> None:
    """A kit without rules leaves every hit as it is."""
    marks = HitFilter(FilterRules({}))

    assert marks.mark(Hit(0, 0.0, 0, 100, "snare")).flag == ""
    assert marks.mark(Hit(1, 0.001, 0, 10, "snare")).flag == ""
