"""Moves: by hand, from drum to drum, against the same hand staying where it is."""

from __future__ import annotations

import random

import pytest
from handmade import course, judged, line, pattern

from trainer.measure.reading import read_take


def _course(passes: int = 6):
    """Eight strokes on the snare, eight on the floor tom: each hand moves once a bar and stays."""
    return course(pattern(line("snare " * 8 + "floor " * 8)), passes)


def _arrives(target, limb: str) -> bool:
    """True for the stroke with which a hand comes to the floor tom."""
    first = {"RH": 8, "LH": 9}[limb]
    return target.note.limb == limb and target.note_index == first


def test_each_step_of_each_hand_is_a_move_or_a_stay() -> None:
    """Per pass and hand: one move to the floor tom and six stays."""
    found = read_take(judged(_course())).moves

    assert set(found.by_move) == {"RH snare to floor", "LH snare to floor"}
    assert found.by_move["RH snare to floor"].errors.count == 6
    assert found.staying["LH"].errors.count == 36


def test_a_late_arrival_is_charged_to_its_move_alone() -> None:
    """Right hand 9 ms late on arriving: that move is 9 ms later than its stays, the left is not."""
    made = judged(_course(), offset_ms=lambda t: 9.0 if _arrives(t, "RH") else 0.0)
    found = read_take(made).moves

    assert found.by_move["RH snare to floor"].mean.value == pytest.approx(9.0)
    assert found.by_move["RH snare to floor"].later.value == pytest.approx(9.0)
    assert found.by_move["LH snare to floor"].later.value == pytest.approx(0.0, abs=1e-9)
    assert found.staying["RH"].mean.value == pytest.approx(0.0, abs=1e-9)


def test_an_unsteady_move_is_wider_than_staying() -> None:
    """Arrivals with a spread of 20 ms against stays of 4: wider by about 16, surely above zero."""
    rng = random.Random(4)
    made = judged(_course(40), offset_ms=lambda t: rng.gauss(0, 20.0 if _arrives(t, "LH") else 4.0))
    wider = read_take(made).moves.by_move["LH snare to floor"].wider

    assert wider.value == pytest.approx(16.0, abs=6.0)
    assert wider.low > 0


def test_missed_arrivals_are_errors_of_the_move() -> None:
    """Half of the arrivals missed are 50 % errors, 50 points more than staying."""
    made = judged(
        _course(), offset_ms=lambda t: None if _arrives(t, "RH") and t.pass_index % 2 else 0.0
    )
    move = read_take(made).moves.by_move["RH snare to floor"]

    assert move.errors.value == 50.0
    assert move.errors_more.value == 50.0


def test_without_stays_there_is_no_comparison() -> None:
    """A hand that never stays cannot be compared: withheld, with the reason."""
    laid = course(pattern(line("snare floor floor snare " * 4, limbs="RL")), 3)
    move = next(iter(read_take(judged(laid)).moves.by_move.values()))

    assert move.mean.value == pytest.approx(0.0, abs=1e-9)
    assert move.later.value is None
    assert move.later.why


def test_strokes_without_a_hand_make_no_moves() -> None:
    """Where nobody said which hand, nothing is claimed."""
    from dataclasses import replace

    written = pattern(line("snare floor " * 8))
    bare = replace(written, notes=tuple(replace(note, limb=None) for note in written.notes))

    found = read_take(judged(course(bare, 2))).moves
    assert (found.by_move, found.staying) == ({}, {})
