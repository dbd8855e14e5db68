"""How often the text of a summary tells a fault: of players without one, and with one planted.

    PYTHONPATH=. python tests/bench/bench_words.py [TAKES [FIRST SEED]]

Players have 7 ms of independent jitter; takes last two minutes. The first table should stay at 5 %
or less in its last column, the second at 95 % or more. Seeds are drawn from a range that nothing
was tuned to; another first seed is the second argument.
"""

from __future__ import annotations

import random
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.kit.note_map import GENERAL_MIDI
from trainer.measure.reading import read
from trainer.measure.words import lines
from trainer.pattern.files import load
from trainer.practice.course import Course, Pass, seconds_per_quarter
from trainer.practice.take import judge

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.practice.course import Target

    Late = Callable[[str, Target], float]

LENGTH_S, JITTER_MS = 120.0, 7.0
PLAIN = (
    ("singles-three-drums", 96.0),
    ("orders-four-drums", 110.0),
    ("singles-three-drums-feet", 120.0),
    ("climb-around", 90.0),
)
HEADS = {
    "Move, ": "move",
    "  Lope: ": "lope",
    "  Inside a pass": "drift",
    "As a rung": "trend",
    "Over the session": "trend",
    "  From ": "change",
    "Worth practising": "advice",
}


def course(name: str, tempo: float) -> Course:
    """Return two minutes of a pattern."""
    one = load(name)
    length_s = float(one.length) * seconds_per_quarter(one, tempo)
    passes = [Pass(n, tempo, 2.0 + n * length_s) for n in range(int(LENGTH_S // length_s) + 1)]
    passes[-1] = replace(passes[-1], end_s=2.0 + LENGTH_S)
    return Course(one, tuple(passes))


def told(laid: Course, seed: int, late_ms: Late) -> list[str]:
    """Return the lines told of one take."""
    dice, last, strikes = random.Random(seed), dict[object, str](), []
    for one in laid.targets():
        note = one.note
        off_ms = dice.gauss(0.0, JITTER_MS) + late_ms(last.get(note.limb, ""), one)
        last[note.limb] = note.voice
        sent = GENERAL_MIDI.note(note.voice, note.zone) or 38
        strikes.append(Strike(one.time_s + off_ms / 1000, sent, 85 + dice.randint(-6, 6)))
    strikes.sort(key=lambda one: one.time_s)
    return lines(read(judge(laid, strikes, GENERAL_MIDI)).to_dict())


def late_move(before: str, target: Target) -> float:
    """The right hand comes 12 ms late from the snare to the high tom."""
    note = target.note
    return 12.0 * (note.limb == "RH" and before == "snare" and note.voice == "tom1")


def lope(_before: str, target: Target) -> float:
    """The left hand comes 4 ms late: a long-short of 8 ms."""
    return 4.0 * (target.note.limb == "LH")


def clean(takes: int, first: int) -> None:
    """Print what is told of players without a fault, in per cent of the takes."""
    print(
        f"no fault, {takes} takes each{'':14}" + "".join(f"{k:>8}" for k in _kinds()) + "     any"
    )
    for name, tempo in PLAIN:
        laid = course(name, tempo)
        kinds = [
            {HEADS[head] for text in told(laid, seed, lambda *_: 0.0) for head in _heads(text)}
            for seed in range(first, first + takes)
        ]
        row = "".join(f"{_share(kind in one for one in kinds):8.0f}" for kind in _kinds())
        print(f"  {name:<32}{row}{_share(bool(one - {'advice'}) for one in kinds):8.0f}")


def planted(takes: int, first: int) -> None:
    """Print how often a planted fault is told, in per cent of the takes."""
    print(f"planted, {takes} takes each")
    for what, late, head in (
        ("a move 12 ms late", late_move, "Move, right hand from snare to high tom"),
        ("a lope of 8 ms", lope, "  Lope: the left hand"),
    ):
        for name, tempo in PLAIN[:2]:
            laid = course(name, tempo)
            found = _share(
                any(text.startswith(head) for text in told(laid, seed, late))
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
