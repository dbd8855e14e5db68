"""Beats, and the clicks that a figure puts on and between them."""

from fractions import Fraction

import pytest

from trainer.errors import BadInput
from trainer.practice.click_figure import (
    ACCENT_CLICK,
    BEAT_CLICK,
    BETWEEN_CLICK,
    COUNT_IN,
    FIGURE_TEXTS,
    PLAYING,
    Beat,
    ClickFigure,
    SilentBars,
    read_figure,
)


def beats(count=4, length_s=0.5, phase=PLAYING):
    """A bar of beats from second 10 on."""
    return [Beat(10 + k * length_s, phase, 0, k, count, length_s) for k in range(count)]


def clicked(figure, bar=0, count=4, phase=PLAYING):
    """What a figure plays in a bar: when, counted from the bar's start, and the kind."""
    found = [
        one for beat in beats(count, phase=phase) for one in figure.clicks(beat, bar, silent=False)
    ]
    return [(round(one.time_s - 10, 9), one.kind) for one in found]


def kinds(count=4, bar=0, **named):
    """The kinds of click of one bar for texts of a figure."""
    return [kind for _, kind in clicked(read_figure(named), bar, count)]


def test_first_beat_of_a_bar_is_accented():
    """The bar's first beat has its own kind of click, the others share one."""
    assert kinds() == [ACCENT_CLICK, BEAT_CLICK, BEAT_CLICK, BEAT_CLICK]


@pytest.mark.parametrize("parts", [1, 2, 3, 4])
def test_subdivisions_divide_the_beat_evenly(parts):
    """A beat of several clicks has them evenly apart, all but the first of the lesser kind."""
    found = ClickFigure(((parts, 1),)).clicks(Beat(10.0, PLAYING, 0, 1, 4, 0.6), 0, silent=False)
    assert [one.time_s for one in found] == pytest.approx(
        [10.0 + 0.6 * k / parts for k in range(parts)]
    )
    assert [one.kind for one in found] == [BEAT_CLICK] + [BETWEEN_CLICK] * (parts - 1)


def test_silence_holds_for_the_whole_beat():
    """A silent beat leaves all of its clicks out."""
    assert all(one.silent for one in ClickFigure(((3, 1),)).clicks(beats()[0], 0, silent=True))


def test_accents_are_where_they_are_asked_for():
    """On beats by number, on the first beat of each group, or nowhere."""
    a, b = ACCENT_CLICK, BEAT_CLICK
    assert kinds(click_accents="2,4") == [b, a, b, a]
    assert kinds(click_accents="none") == [b, b, b, b]
    assert kinds(click_accents="3+3+2", count=8) == [a, b, b, a, b, b, a, b]
    assert kinds(click_accents="3+3+2", count=4) == [a, b, b, b]


def test_groups_of_eighths_are_accented_over_quarters():
    """With two clicks to a beat, 3+3+2 accents eighths of a bar of four quarters."""
    found = kinds(click_accents="3+3+2", click_parts="2")
    accents = [place for place, kind in enumerate(found) if kind == ACCENT_CLICK]
    assert accents == [0, 3, 6]
    assert found[1::2] == [BETWEEN_CLICK, ACCENT_CLICK, BETWEEN_CLICK, BETWEEN_CLICK]


def test_a_figure_fits_where_it_changes_something():
    """Beats that no bar has, and groups of another length, fit nowhere."""
    assert read_figure({"click_on": "2,4"}).fits(3)
    assert not read_figure({"click_on": "5"}).fits(4)
    assert read_figure({"click_accents": "3+3+2"}).fits(8)
    assert not read_figure({"click_accents": "3+3+2"}).fits(4)
    assert read_figure({"click_accents": "3+3+2", "click_parts": "1x4,2x4"}).fits(4)
    assert ClickFigure().fits(1)


def test_a_click_on_two_and_four_alone():
    """Other beats have none, also none between; in the count-in all beats click."""
    figure = read_figure({"click_on": "2,4", "click_parts": "2"})
    assert [at for at, _ in clicked(figure)] == [0.5, 0.75, 1.5, 1.75]
    assert [at for at, _ in clicked(figure, phase=COUNT_IN)][::2] == [0, 0.5, 1, 1.5]


def test_subdivisions_come_and_go():
    """One click a beat for two bars, then four for one, and so on."""
    figure = read_figure({"click_parts": "1x2,4x1"})
    assert [len(clicked(figure, bar)) for bar in range(7)] == [4, 4, 16, 4, 4, 16, 4]


def test_a_click_an_eighth_late():
    """All clicks are on the offbeats, whatever note a beat is; the count-in is on time."""
    figure = read_figure({"click_late": "1/8"})
    assert [at for at, _ in clicked(figure)] == [0.25, 0.75, 1.25, 1.75]
    assert [at for at, _ in clicked(figure, phase=COUNT_IN)] == [0, 0.5, 1, 1.5]
    dotted = Beat(0.0, PLAYING, 0, 0, 2, 0.9, quarters=1.5)
    assert figure.clicks(dotted, 0, silent=False)[0].time_s == pytest.approx(0.3)


def test_swing_moves_the_second_of_two():
    """At 67 of 100 the second eighth is nearly the third triplet; triplets stay as they are."""
    figure = read_figure({"click_parts": "2", "click_swing": "67"})
    assert [at for at, _ in clicked(figure)][:4] == [0, 0.335, 0.5, 0.835]
    figure = read_figure({"click_parts": "4", "click_swing": "60%"})
    assert [at for at, _ in clicked(figure)][:4] == [0, 0.15, 0.25, 0.4]


def test_silent_bars_grow():
    """Of every four bars the last one, then two, then three, and three from then on."""
    bars = read_figure({"silent_bars": "1-3/4"}).silent
    heard = "".join("-x"[not bars.silent(bar, bar)] for bar in range(16))
    assert heard == "xxx-xx--x---x---"


def test_silent_bars_by_chance_are_the_same_for_one_seed():
    """Some three bars in ten are silent; another seed has others."""
    one, other = (read_figure({"silent_bars": "30%"}, seed).silent for seed in (1, 2))
    drawn = [one.silent(0, bar) for bar in range(2000)]
    assert 500 < sum(drawn) < 700
    assert drawn == [one.silent(0, bar) for bar in range(2000)]
    assert drawn != [other.silent(0, bar) for bar in range(2000)]


def test_nothing_written_is_the_plain_click():
    """No text, or empty ones, are a click a beat, never silent."""
    assert read_figure({}) == read_figure(dict.fromkeys(FIGURE_TEXTS, " ")) == ClickFigure()
    assert not SilentBars().silent(7, 7)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        *(("click_parts", text) for text in ("0", "9", "x", "1x0", "1x", "1,,2", "1x4x2")),
        *(("click_on", text) for text in ("0", "2;4", "65", "two")),
        *(("click_accents", text) for text in ("0", "3+", "all", "1+a")),
        *(("click_late", text) for text in ("1", "0/8", "1/0", "3/4", "1/8/2", "1/1000")),
        *(("click_swing", text) for text in ("49", "76", "half", "6e1")),
        *(("silent_bars", text) for text in ("4/4", "0/2", "1/1", "2-1/4", "1-4/4", "0%", "100%")),
    ],
)
def test_what_no_figure_means_is_refused(name, text):
    """Each text out of its bounds is bad input that says how it is written."""
    with pytest.raises(BadInput, match=f"as {name}: .* is not understood.*write"):
        read_figure({name: text}, named=lambda one: f"as {one}")


def test_a_swing_needs_a_pair():
    """A swing of single clicks would change nothing: that is said."""
    with pytest.raises(BadInput, match="two clicks to a beat"):
        read_figure({"click_swing": "67"})
    assert read_figure({"click_swing": "67", "click_parts": "1x4,2x4"}).swing == 0.67


def test_an_eighth_is_half_a_quarter():
    """Note values are parts of a whole note."""
    assert read_figure({"click_late": "1/8"}).late == Fraction(1, 2)
