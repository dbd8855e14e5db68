"""A position controller and the stroke it belongs to, and the pedal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.midi.hit_source import Control
from trainer.midi.midi_message import JOIN_S, PositionJoiner, with_pedal

if TYPE_CHECKING:
    from trainer.midi.hit_source import SourceEvent


def hear(place: PositionJoiner, *made: SourceEvent) -> list[SourceEvent]:
    """Hear messages in turn, then wait; return what was handed on, in order."""
    ready = [one for each in made for one in place.hear(each)]
    return ready + place.due(made[-1].time_s + 2 * JOIN_S)


def at(time_s: float, value: int = 127) -> Control:
    """A place given by controller 16."""
    return Control(time_s, "control", 16, value)


def test_a_position_goes_to_the_stroke_that_follows_at_once() -> None:
    """The value becomes 0 (middle) to 1 (edge) of the next stroke, and of that one only."""
    place = PositionJoiner()

    assert place.hear(at(1.000)) == [at(1.000)]
    assert place.hear(Strike(1.001, 38, 90)) == [Strike(1.001, 38, 90, 1.0)]
    assert place.hear(Strike(1.002, 38, 90)) == [Strike(1.002, 38, 90)]


def test_a_position_that_no_stroke_follows_is_nobodys() -> None:
    """An old value, and other controllers, place nothing."""
    place = PositionJoiner()
    assert hear(place, at(1.0), Strike(1.006, 38, 90))[-1] == Strike(1.006, 38, 90)
    place.hear(Control(2.0, "control", 20, 64))
    assert place.hear(Strike(2.001, 38, 90)) == [Strike(2.001, 38, 90)]


def test_a_position_just_after_its_stroke_is_joined() -> None:
    """A kit that sends the place after the note is known by its first stroke; then all have one."""
    place = PositionJoiner()
    sent = [
        made
        for k in range(4)
        for made in (Strike(1.0 + 0.1 * k, 38, 90), at(1.002 + 0.1 * k, 10 + k))
    ]
    heard = hear(place, *sent)

    assert place.after
    assert [one.time_s for one in heard] == [one.time_s for one in sent]
    places = [one.position for one in heard if isinstance(one, Strike)]
    assert places == [None, 11 / 127, 12 / 127, 13 / 127]


def test_a_stroke_whose_place_does_not_come_is_handed_on() -> None:
    """Waiting ends after a few ms, the stamp is as it was, and nothing overtakes it."""
    place = PositionJoiner()
    hear(place, Strike(1.0, 38, 90), at(1.002), Strike(1.1, 38, 90), at(1.102))
    choke = Control(2.001, "choke", 49, 127)

    assert place.hear(Strike(2.0, 36, 90)) == []
    assert place.hear(choke) == []
    assert place.due(2.0 + 0.9 * JOIN_S) == []
    assert place.due(2.0 + 1.1 * JOIN_S) == [Strike(2.0, 36, 90), choke]


def test_a_kit_that_sends_the_place_first_is_not_kept_waiting() -> None:
    """Also where another stroke came just before the place, strokes go on at once."""
    place = PositionJoiner()
    sent = [Strike(1.0, 36, 90), at(1.002), Strike(1.003, 38, 90), Strike(1.5, 36, 90)]

    assert [len(place.hear(one)) for one in sent] == [1, 1, 1, 1]
    assert not place.after


def test_strokes_carry_the_pedals_last_value() -> None:
    """Live and from a file alike; before the first movement there is none."""
    sent = [
        Strike(0.5, 42, 90),
        Control(1.0, "control", 4, 100),
        Strike(1.2, 42, 90),
        Control(1.3, "control", 4, 20),
        Control(1.3, "choke", 4, 0),
        Strike(1.4, 42, 90),
    ]
    live = [one for one in hear(PositionJoiner(), *sent) if isinstance(one, Strike)]
    strikes = [one for one in sent if isinstance(one, Strike)]
    controls = [one for one in sent if isinstance(one, Control)]

    assert [one.pedal for one in live] == [None, 100, 20]
    assert list(with_pedal(strikes, controls)) == live
