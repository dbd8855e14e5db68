"""Takes that nobody would record on purpose: no crash, no NaN, no confident lie."""

from __future__ import annotations

import json
import math
import random
import warnings
from dataclasses import replace

import pytest
from handmade import course, judged, line, pattern, player, walk

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.clean import clean_verdict
from trainer.measure.reading import read_take
from trainer.practice.matcher import judge
from trainer.show.reading_words import reading_lines


def _sound(take, **options) -> dict:
    """The summary of a take, after checking that it is valid JSON and can be said in words."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        summary = read_take(take, **options).to_dict()
    json.dumps(summary, allow_nan=False)
    assert len(reading_lines(summary)) <= 25
    assert all("nan" not in text for text in reading_lines(summary, full=True))
    return summary


@pytest.mark.parametrize("kept", [0, 1, 2, 3, 5, 8])
def test_hardly_any_strokes(kept: int) -> None:
    """A take with a handful of strokes is read, and doubted."""
    made = judged(course(walk()), offset_ms=lambda t: 2.0 if t.index < kept else None)
    summary = _sound(made, silent=[(0.0, 100.0)])

    assert f"Only {kept} of 22 strokes" in summary["doubt"]
    assert not clean_verdict(made).clean


def test_nothing_asked_for() -> None:
    """No pass, or a pattern without notes: nothing to say."""
    for empty in (judged(course(walk(), 0)), judged(course(pattern([], bars=2), 3))):
        assert reading_lines(_sound(empty))[-1].startswith("No stroke was due")
        assert not clean_verdict(empty).clean


def test_ten_thousand_hits_in_a_second() -> None:
    """A flood of hits is counted; the few that found a target are doubted."""
    rng = random.Random(1)
    flood = [Strike(2 + time_s, 38, 90) for time_s in sorted(rng.random() for _ in range(10_000))]
    summary = _sound(judge(course(walk(), 4), flood, GENERAL_MIDI))

    assert summary["counts"]["hits"] == 10_000
    assert summary["doubt"]


def test_all_on_a_pad_the_kit_does_not_know() -> None:
    """Hits on unmapped notes play nothing, are reported as such, and say nothing about time."""
    laid = course(walk(), 2)
    strikes = [Strike(target.time_s, target.index % 20, 90) for target in laid.targets()]
    summary = _sound(judge(laid, strikes, GENERAL_MIDI))

    assert summary["counts"]["played"] == 0
    assert summary["counts"]["hits"] == len(strikes)
    assert set(summary["touch"]["strays_by_voice"]) <= {"unknown pad"}
    assert summary["doubt"].startswith("Only 0 of ")
    assert summary["offset"]["mean"]["value"] is None


@pytest.mark.parametrize("factor", [0.7, 1.37, 2.0])
def test_another_tempo_than_said_is_doubted_or_unclean(factor: float) -> None:
    """The same strokes faster or slower never read as a clean take."""
    laid = course(walk(), 6)
    strikes = [
        Strike(2 + (t.time_s - 2) * factor, GENERAL_MIDI.note(t.note.voice) or 0, 90)
        for t in laid.targets()
    ]
    made = judge(laid, strikes, GENERAL_MIDI)
    summary = _sound(made)

    assert not clean_verdict(made).clean
    assert summary["doubt"] or summary["counts"]["errors"]["value"] > 20


def test_partners_found_by_chance_are_doubted() -> None:
    """Offsets spread evenly between two targets are no player's; chance leaves some unpaired."""
    rng = random.Random(1)
    half = 0.5 * 150.0

    def by_chance(_):
        return rng.uniform(-half, half) if rng.random() < 0.85 else None

    summary = _sound(judged(course(walk(), 4), offset_ms=by_chance))

    assert "by chance" in summary["doubt"]


def test_a_loose_take_with_its_strokes_paired_is_not_doubted() -> None:
    """However wide offsets are: where every stroke and hit has a partner, the pattern was played.

    Nor are eighths judged as if they were the 32nds that a file writes them in.
    """
    rng = random.Random(1)
    loose = judged(course(walk(), 4), offset_ms=lambda t: rng.gauss(0, 40))
    eighths = [replace(one, value="32") for one in line("snare " * 32, value="8")]
    short = judged(
        course(pattern(eighths), 4, 120.0),
        offset_ms=lambda t: rng.gauss(0, 20) if rng.random() < 0.9 else None,
    )

    assert _sound(loose)["doubt"] == ""
    assert _sound(short)["doubt"] == ""


def test_many_strays_are_doubted() -> None:
    """More strays than half of the written strokes: perhaps another pattern."""
    extras = [(2 + at / 100, "extra") for at in range(30)]

    assert (
        "30 hits belong to no written stroke"
        in _sound(judged(course(walk()), extras=extras))["doubt"]
    )


def test_a_sloppy_player_is_not_doubted() -> None:
    """20 ms of jitter in sixteenths at 100 BPM is bad playing, not another pattern."""
    assert _sound(judged(course(walk(), 4), offset_ms=player(1, 20.0)))["doubt"] == ""


def test_a_fast_player_who_wanders_is_not_doubted() -> None:
    """32nds at 150 BPM, 6 ms of jitter on a slow swing of 20 ms: wide, but not by chance."""
    laid = course(pattern(line("snare " * 64, value="32")), 6, 150.0)
    play = player(1, 6.0)
    made = judged(laid, offset_ms=lambda t: play(t) + 20 * math.sin(t.time_s))

    assert _sound(made)["doubt"] == ""


def test_wild_offsets_move_no_robust_figure() -> None:
    """One stroke a second off leaves the drift where it was."""
    play = player(3, 5.0)
    wild = judged(course(walk(16)), offset_ms=lambda t: 1000.0 if t.index == 40 else play(t))

    drift = _sound(wild)["offset"]["drift"]
    assert abs(drift["value"]) < 60
