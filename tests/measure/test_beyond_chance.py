"""What a summary tells of a player without faults, and of one with a fault that was planted."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from faults import even, loping, slow_move, summary, two_minutes

from trainer.show.reading_differences import SUMMARY_ALPHA, significant_keys
from trainer.show.reading_words import reading_lines

if TYPE_CHECKING:
    from faults import Late

    from trainer.practice.course import Course

COMPARED = re.compile(
    r"Move|Limp|Within a pass|During a rung|Over the session|  From |hand louder|(first|last) by "
)


def reported(laid: Course, seed: int, late_ms: Late) -> list[str]:
    """The lines of a take's summary which compare."""
    return [text for text in reading_lines(summary(laid, seed, late_ms)) if COMPARED.search(text)]


@pytest.mark.parametrize(("name", "tempo"), [("fives-and-threes", 96.0), ("two-to-five", 220.0)])
def test_nothing_is_reported_of_an_even_player(name: str, tempo: float) -> None:
    """At most one take in twenty may hold any line that compares; three of 20 come by chance in
    fewer than one run in twelve of seeds, and these seeds were not chosen."""
    laid = two_minutes(name, tempo)
    takes = [reported(laid, seed, even) for seed in range(71000, 71020)]
    assert sum(map(bool, takes)) <= 2


@pytest.mark.parametrize(
    ("late_ms", "text"),
    [(slow_move, "Move, right hand, snare to floor tom:"), (loping, "  Limp: left hand ")],
)
def test_a_planted_fault_is_reported(late_ms: Late, text: str) -> None:
    """A move 12 ms late and a lope of 8 ms are found in at least 19 of 20 takes of two minutes."""
    laid = two_minutes("fives-and-threes", 96.0)
    takes = [reported(laid, seed, late_ms) for seed in range(72000, 72020)]
    assert sum(any(line.startswith(text) for line in take) for take in takes) >= 19


def test_a_line_that_compares_says_from_what() -> None:
    """The interval and the number of strokes stand beside the amount."""
    (line,) = reported(two_minutes("fives-and-threes", 96.0), 73000, loping)
    assert re.search(
        r"\d+ ms late between rights, \d+ to \d+ \(95% interval, \d+ strokes\)\.$", line
    )


def test_the_more_is_looked_at_the_more_a_difference_has_to_be() -> None:
    """A figure that is found alone is not found as one of many; Holm begins at ALPHA over all.

    A t of 2.5 from 31 strokes comes by chance in 1.8% of takes (tables of Student's t).
    """
    laid = two_minutes("two-to-five", 220.0)
    one = summary(laid, 74000, even)
    nothing = {"value": None, "low": None, "high": None, "count": 0, "unit": "ms"}
    shown = {"value": 2.5, "low": 2.5 - 2.042, "high": 2.5 + 2.042, "count": 31, "unit": "ms"}
    many = one | {"evenness": one["evenness"] | {"lope": shown}}
    alone = many | {
        "moves": {"staying": {}, "by_move": {}},
        "unisons": {"by_kind": {}, "by_limbs": {}},
        "offset": one["offset"] | {"drift": nothing},
        "power": one["power"] | {"balance": nothing},
        "staying": dict.fromkeys(
            ("rung", "session"), dict.fromkeys(one["staying"]["rung"], nothing)
        ),
    }
    assert SUMMARY_ALPHA == 0.05
    assert significant_keys(alone) == {"evenness.lope"}
    assert "evenness.lope" not in significant_keys(many)
