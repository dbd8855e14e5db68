"""Pedal, place and choke, as kits send them."""

from __future__ import annotations

import pytest

from trainer.kit.hits import Controllers, Pedal, Strike
from trainer.kit.learning import HiHatNoteLearner, PedalLearner, PlaceLearner
from trainer.kit.model import ChokeReader, Kit, Pad
from trainer.midi.simulated_player import CHOKING_KIT


def _press(ear: PedalLearner, closed: int, up: int, number: int, *, note: bool = True) -> None:
    for step in range(9):
        ear.control(number, up + (closed - up) * step // 8)
    if note:
        ear.pedal_note()
    for step in range(9):
        ear.control(number, closed + (up - closed) * step // 8)


@pytest.mark.parametrize(("closed", "up"), [(127, 0), (0, 90), (100, 10)])
def test_the_pedal_is_known_after_three_presses(closed: int, up: int) -> None:
    """Number, both ends and direction, whichever way the kit counts."""
    ear = PedalLearner()
    for count in range(4):
        assert (ear.learned() is not None) == (count > 3)
        _press(ear, closed, up, 4)

    assert ear.learned() == Pedal(4, closed, up)


def test_without_a_note_the_higher_value_is_closed() -> None:
    """Common practice, no source."""
    ear = PedalLearner()
    for _ in range(4):
        _press(ear, 120, 5, 7, note=False)

    assert ear.learned() == Pedal(7, 120, 5)


def test_a_controller_that_hardly_moves_is_no_pedal() -> None:
    """Noise of a few steps is not taken for a foot."""
    ear = PedalLearner()
    for _ in range(20):
        _press(ear, 70, 60, 4)

    assert ear.learned() is None


def test_opening_runs_from_closed_to_open() -> None:
    """0 closed, 1 open, nothing beyond, in either direction."""
    assert [Pedal(4, 127, 0).opening(value) for value in (127, 0)] == [0.0, 1.0]
    assert Pedal(4, 10, 90).opening(50) == 0.5
    assert Pedal(4, 10, 90).opening(0) == 0.0


def test_the_pedal_never_shows_a_place() -> None:
    """A foot that still moves while the snare is struck is passed over; the place is heard."""
    ear = PlaceLearner(pedal=4)
    for place in range(8):
        ear.control(4, 127 * (place % 2))
        ear.control(16, place * 14)
        ear.stroke()

    assert ear.learned() == 16


def test_the_place_controller_is_the_one_that_moves() -> None:
    """A steady controller beside it is not taken; too few strokes show nothing."""
    ear = PlaceLearner()
    for place in range(0, 128, 16):
        ear.control(16, place)
        ear.control(4, 90)
        ear.stroke()

    assert ear.enough
    assert ear.learned() == 16
    assert PlaceLearner().learned() is None


def test_nothing_learned_is_false() -> None:
    """An empty set of controllers says so."""
    assert not Controllers()
    assert Controllers(chokes=(49,))


@pytest.mark.parametrize(
    ("closed", "opened", "one"), [([42] * 4, [42] * 4, True), ([42] * 4, [46] * 3 + [42], False)]
)
def test_one_note_for_the_hi_hat_closed_and_open(
    closed: list[int], opened: list[int], one: bool
) -> None:
    """Whether only the pedal shows it is known once both kinds were struck a few times."""
    ear = HiHatNoteLearner(Pedal(4, 127, 0))
    for note in closed:
        ear.stroke(note, 120)
    assert not ear.enough
    assert not ear.one_note()
    for note in opened:
        ear.stroke(note, 5)
    assert ear.enough
    assert ear.one_note() is one


def test_the_pedal_makes_closed_strokes_open() -> None:
    """With one note for both, half open and more is open; other pads and kits stay as they are."""
    kit = Kit(controllers=Controllers(Pedal(4, 127, 0, zones=True)))
    zones = [kit.struck(Strike(0.0, 42, 90, pedal=value)) for value in (127, 70, 57, 0, None)]
    assert [one and one.zone for one in zones] == ["closed", "closed", "open", "open", "closed"]
    assert kit.struck(Strike(0.0, 46, 90, pedal=127)) == Pad("hihat", "closed")
    assert kit.struck(Strike(0.0, 38, 90, pedal=0)) == Pad("snare", "head")
    assert kit.struck(Strike(0.0, 44, 90, pedal=0)) == Pad("pedal", "closed")
    with_two = Kit(controllers=Controllers(Pedal(4, 127, 0)))
    assert with_two.struck(Strike(0.0, 42, 90, pedal=0)) == Pad("hihat", "closed")


def test_a_choke_is_a_rise_of_pressure_on_a_cymbal_that_has_one_written() -> None:
    """The first value of each press; none while it is held, let go, or on another cymbal."""
    reader = ChokeReader(CHOKING_KIT, {"ride"})
    assert reader.read(49, 127, 1.0) is None
    presses = [reader.read(51, value, 1.0) for value in (40, 127, 0, 90)]
    assert [one is not None for one in presses] == [True, False, False, True]
