"""A try by the simulated player: half a minute, judged like any other take."""

from __future__ import annotations

from trainer.midi.simulated_player import COUNT_IN_S, EXACT_TRAITS, TAKE_S, simulated_take
from trainer.pattern import library
from trainer.pattern.language import notation


def test_a_faultless_player_plays_every_stroke_on_time() -> None:
    """Every target is played, none is early or late, and whole passes fill half a minute."""
    judged = simulated_take(library.load_pattern("single-paradiddle"), traits=EXACT_TRAITS)
    assert set(judged.target_outcome) == {"played"}
    assert all(abs(judged.offset_s(at) or 0.0) < 1e-9 for at in range(len(judged.targets)))
    last = judged.targets[-1].time_s
    assert abs(last - COUNT_IN_S - TAKE_S) < 60.0 / 70.0 * 4


def test_a_long_pattern_is_cut_off() -> None:
    """Nothing beyond half a minute is asked for."""
    table = {"hands": {"sticking": "R L", "value": "16"}, "length": 2000}
    judged = simulated_take(notation.read(table, "long"))
    assert judged.targets[-1].time_s < COUNT_IN_S + TAKE_S


def test_the_same_try_comes_out_the_same() -> None:
    """A seed gives the same strokes."""
    pattern = library.load_pattern("single-paradiddle")
    assert simulated_take(pattern).target_outcome == simulated_take(pattern).target_outcome
