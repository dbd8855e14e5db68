"""Strokes a second gained after 30 evenings: `trainer tonight` against plain ladders.

The learners and all that is assumed of them are in tests/simulated_learners.py. They have four
patterns, all short of their goal, and 40 minutes an evening. Printed are the gains, mean and worst
learner, (a) over the four patterns of the goal, (b) on the first of them alone, for

- *tonight*: the evening that the program lays out (warm-up and rests are part of the 40 minutes);
- *same*: the first pattern every evening by a plain (steady) ladder, without a rest;
- *same, aimed*: the same by the program's own ladder, with a warm-up's minutes and rests taken off;
- *in turn*: another of the four every evening by a plain ladder, without a rest.

As last measured (three learners of each kind, strokes a second, means):

| assumed                  | goal: tonight | same | in turn | first: tonight | same |
|--------------------------|---------------|------|---------|----------------|------|
| no transfer, no mixing   | 1.52          | 0.77 | 0.91    | 1.39           | 3.09 |
| mixing 0.5               | 1.91          | 0.77 | 0.91    | 1.92           | 3.09 |
| transfer 0.3             | 2.47          | 1.30 | 1.52    | 2.46           | 3.09 |
| transfer 0.3, mixing 0.25| 2.69          | 1.30 | 1.52    | 2.70           | 3.09 |
| transfer 1               | 3.78          | 2.72 | 2.38    | 3.87           | 3.09 |
| minutes never wear off   | 1.94          | 1.15 | 2.44    | 1.90           | 4.60 |
| nor does transfer 1      | 4.15          | 3.94 | 4.23    | 4.38           | 4.60 |
| little talent, slow      | 0.34          | 0.19 | 0.20    | 0.27           | 0.75 |

So it is not better for who needs a single pattern, unless all is carried over and long practice of
one pattern wears off; and where that never wears off, patterns in turn without warm-up and rests
gain more: rests and warm-up take a quarter of the time, and help these learners little.

Run with

    python -m pytest tests/bench/bench_tonight.py -s
    python -m tests.bench.bench_tonight
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from simulated_learners import Assumed, gains, in_turn, planned, same_ladder, same_rested

LEARNERS = 3
USUAL = Assumed()
KINDS = {
    "no transfer, no mixing": USUAL,
    "mixing 0.5": replace(USUAL, mixing=0.5),
    "transfer 0.3": replace(USUAL, transfer=0.3),
    "transfer 0.3, mixing 0.25": replace(USUAL, transfer=0.3, mixing=0.25),
    "transfer 1": replace(USUAL, transfer=1.0),
    "minutes never wear off": replace(USUAL, half_minutes=1e9),
    "nor does transfer 1": replace(USUAL, half_minutes=1e9, transfer=1.0),
    "much forgotten": replace(USUAL, forgetting=0.04),
    "little talent, slow": replace(USUAL, talent=0.2, rate=0.002),
    "much talent, fast": replace(USUAL, talent=0.8, rate=0.008),
}
WAYS = {"tonight": planned, "same": same_ladder, "same, aimed": same_rested, "in turn": in_turn}


@pytest.mark.bench
def test_tonight():
    """Prints the table; the single pattern is where `tonight` is not better."""
    head = ("strokes a second gained", "goal: mean", "worst", "first: mean", "worst")
    print("\n{:28}{:>12}{:>8}{:>14}{:>8}".format(*head))
    for kind, assumed in KINDS.items():
        print(kind)
        for name, way in WAYS.items():
            found = [gains(way, assumed, seed) for seed in range(LEARNERS)]
            goal, first = zip(*found, strict=True)
            row = (sum(goal) / len(goal), min(goal), sum(first) / len(first), min(first))
            print("  {:26}{:12.2f}{:8.2f}{:14.2f}{:8.2f}".format(name, *row), flush=True)


if __name__ == "__main__":
    test_tonight()
