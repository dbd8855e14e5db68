"""How often the text of a summary tells a fault: of players without one, and with one planted.

    PYTHONPATH=.:tests python tests/bench/bench_words.py [TAKES [FIRST SEED]]

Players have 7 ms of independent jitter; takes last two minutes. The first table should stay at 5 %
or less in its last column, the second at 95 % or more. Seeds are drawn from a range that nothing
was tuned to; another first seed is the second argument.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from faults import even, loping, slow_move, summary, two_minutes

from trainer.show.reading_words import reading_lines

if TYPE_CHECKING:
    from faults import Late

    from trainer.practice.course import Course

PLAIN = (
    ("fives-and-threes", 96.0),
    ("two-to-five", 220.0),
    ("fives-and-threes-feet", 120.0),
    ("climb-around", 90.0),
)
HEADS = {
    "Move, ": "move",
    "  Limp: ": "limp",
    "  Within a pass": "drift",
    "During a rung": "trend",
    "Over the session": "trend",
    "  From ": "change",
    "Worth practising": "advice",
}


def reported(laid: Course, seed: int, late_ms: Late) -> list[str]:
    """Return the lines that are said of one take."""
    return reading_lines(summary(laid, seed, late_ms))


def clean(takes: int, first: int) -> None:
    """Print what is said of players without a fault, in per cent of the takes."""
    print(
        f"no fault, {takes} takes each{'':14}" + "".join(f"{k:>8}" for k in _kinds()) + "     any"
    )
    for name, tempo in PLAIN:
        laid = two_minutes(name, tempo)
        kinds = [
            {HEADS[head] for text in reported(laid, seed, even) for head in _heads(text)}
            for seed in range(first, first + takes)
        ]
        row = "".join(f"{_share(kind in one for one in kinds):8.0f}" for kind in _kinds())
        print(f"  {name:<32}{row}{_share(bool(one - {'advice'}) for one in kinds):8.0f}")


def planted(takes: int, first: int) -> None:
    """Print how often a planted fault is reported, in per cent of the takes."""
    print(f"planted, {takes} takes each")
    for what, late, head in (
        ("a move 12 ms late", slow_move, "Move, right hand from snare to floor tom"),
        ("a lope of 8 ms", loping, "  Lope: the left hand"),
    ):
        for name, tempo in PLAIN[:2]:
            laid = two_minutes(name, tempo)
            found = _share(
                any(text.startswith(head) for text in reported(laid, seed, late))
                for seed in range(first, first + takes)
            )
            print(f"  {what:<20}{name:<24}{found:8.0f}")


def _heads(text: str) -> list[str]:
    return [head for head in HEADS if text.startswith(head)]


def _kinds() -> list[str]:
    return list(dict.fromkeys(HEADS.values()))


def _share(those: object) -> float:
    every = [bool(one) for one in those]  # type: ignore[attr-defined]
    return 100.0 * sum(every) / max(1, len(every))


if __name__ == "__main__":
    count, seed = (int(one) for one in (*sys.argv[1:], *("100", "830000")[len(sys.argv) - 1 :]))
    clean(count, seed)
    planted(count, seed + count)
