"""The word about playing on and on without a break."""

from __future__ import annotations

from trainer.practice.routine import BREAK_S, PLAYING_LIMIT_S, REST_NOTICE, RestReminder


def reported(times: list[float]) -> list[float]:
    """Return the times of the strokes at which the player gets a line."""
    stretch = RestReminder()
    found = []
    for time_s in times:
        notices = stretch.stroke(time_s)
        assert [one.text for one in notices] in ([], [REST_NOTICE])
        found += [time_s] if notices else []
    return found


def steady(first_s: float, last_s: float) -> list[float]:
    """Return two strokes a second."""
    return [first_s + k / 2 for k in range(int(2 * (last_s - first_s)) + 1)]


def test_half_an_hour_is_reported_once() -> None:
    """The first stroke after half an hour brings the word, and hours more bring no other."""
    assert reported(steady(5.0, 4 * PLAYING_LIMIT_S)) == [5.0 + PLAYING_LIMIT_S]


def test_a_break_begins_a_new_stretch() -> None:
    """After a break half an hour counts from the next stroke, and a line comes again."""
    again_s = 5.0 + PLAYING_LIMIT_S + 600.0 + BREAK_S
    strokes = [
        *steady(5.0, 5.0 + PLAYING_LIMIT_S + 600.0),
        *steady(again_s, again_s + PLAYING_LIMIT_S),
    ]

    assert reported(strokes) == [5.0 + PLAYING_LIMIT_S, again_s + PLAYING_LIMIT_S]


def test_a_short_halt_is_no_break() -> None:
    """Half a minute without a stroke does not begin a new stretch."""
    strokes = [*steady(0.0, 1000.0), *steady(1030.0, PLAYING_LIMIT_S)]

    assert reported(strokes) == [PLAYING_LIMIT_S]
