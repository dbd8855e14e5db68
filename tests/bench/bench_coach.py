"""Coverage and power of what a coach is told: ladders, rungs, forecasts, length, hands, mistakes.

Players are simulated: a chance to be clean that falls along a curve (still, learning, with form by
the day), or strokes with errors that are white, wander, pink or wander limb by limb. Coverage is
the share of intervals that hold the truth. Run with

    python -m pytest tests/bench/bench_coach.py -s
    python -m tests.bench.bench_coach
"""

from __future__ import annotations

import math
import random
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "measure"))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from simulated_takes import KINDS, clean_chance
from test_after_mistake import made
from test_endurance import climbed
from test_forecast import weeks
from test_limb_ceilings import ladder
from test_rung_verdict import rungs

from trainer.measure.after_mistake import after_mistakes
from trainer.measure.ceiling import RungOutcome, ceiling
from trainer.measure.endurance import endurance
from trainer.measure.figure import is_clear
from trainer.measure.forecast import Forecast, forecast, week_off
from trainer.measure.limb_ceilings import limb_ceilings
from trainer.practice.ceiling_search import KnownCeiling
from trainer.practice.ladder import (
    ADAPTIVE,
    AIMED,
    STEADY,
    Ladder,
    chosen_rule,
    first_standing,
    next_standing,
)

TRIALS = 100


def first_session(dice, rule, slope, gain=0.0, form=0.0, known=False):
    """Twenty rungs: (error of the ceiling, whether it is open, share of clean rungs)."""
    level = dice.uniform(80, 200)
    middle = level * math.exp(dice.gauss(0, form))
    given = KnownCeiling(0.95 * level, 1.05 * level) if known else None
    start = round(level * (0.88 if known else dice.uniform(0.7, 0.95)))
    chosen = Ladder(start, chosen_rule(rule, None)[1], rule=rule, known=given)
    standing, played = first_standing(chosen), []
    for _ in range(20):
        middle *= 1 + gain / 20
        clean = dice.random() < clean_chance(standing.tempo, middle, slope * middle)
        played.append(RungOutcome(standing.tempo, clean))
        standing = next_standing(chosen, standing, clean)
    half = ceiling(played).half
    clean = np.mean([one.clean for one in played])
    return half.tempo / middle - 1, half.open_above or half.open_below, clean


@pytest.mark.bench
def test_ladders():
    """Prints the ceiling's error after twenty rungs, how often it is open, and what was clean."""
    print(f"\n{'':34}{'error':>9}{'open':>9}{'clean':>9}")
    for rule in (AIMED, STEADY, ADAPTIVE):
        for words, *player in (
            ("clean to not within 9%", 0.02),
            ("within 13%", 0.03),
            ("within 22%", 0.05),
            ("13%, learns 3% on the way", 0.03, 0.03),
            ("13%, form of 4%", 0.03, 0.0, 0.04),
            ("13%, ceiling known to 5%", 0.03, 0.0, 0.02, True),
        ):
            dice = random.Random(7)
            rows = np.array([first_session(dice, rule, *player) for _ in range(TRIALS)], float)
            error, (_, is_open, clean) = math.sqrt(np.mean(rows[:, 0] ** 2)), rows.mean(axis=0)
            figures = f"{100 * error:8.1f}%{is_open:9.2f}{clean:9.2f}"
            print(f"{rule + ': ' + words:34}{figures}", flush=True)
            assert math.isfinite(error)


@pytest.mark.bench
def test_rungs():
    """Prints the share of rungs called clean, and their strokes, by how near the limit is."""
    print(f"\n{'':9}" + "".join(f"{share:>14}" for share in (0.5, 0.8, 0.9, 1.0, 1.2, 1.4)))
    for kind in KINDS:
        cells = []
        for share in (0.5, 0.8, 0.9, 1.0, 1.2, 1.4):
            found = rungs(kind, share)
            strokes = np.mean([one.strokes for one in found])
            cells.append(f"{np.mean([one.clean for one in found]):8.2f}{strokes:6.0f}")
        print(f"{kind:9}" + "".join(cells), flush=True)
        assert cells


@pytest.mark.bench
def test_forecasts():
    """Prints how often the level four weeks on and the loss of a week off are held, or found."""
    print(f"\n{'gain, form, lost a week off':30}{'4 weeks':>9}{'week off':>9}{'found':>9}")
    for gain, form, lost in (
        *((gain, form, 0.0) for gain in (0.0, 0.002, 0.005) for form in (0.0, 0.02, 0.04)),
        *((0.004, 0.01, lost) for lost in (1e-9, 0.03, 0.06)),
    ):
        dice, rows = random.Random(5), []
        for _ in range(TRIALS):
            days, level = weeks(dice, gain, form, lost, 40 if lost else 20)
            line, off = forecast(days), week_off(days)
            assert isinstance(line, Forecast)
            one = line.tempo_on(28.0)
            # Where weeks off are lost, the line goes on with them; the level here does not.
            held = lost > 0 or one.low <= math.exp(level + 14 * gain) <= one.high
            known = off.value is not None
            rows.append(
                (held, known and off.low <= 100 * math.expm1(-lost) <= off.high, is_clear(off))
            )
        held, week, found = np.mean(rows, axis=0)
        figures = f"{'':9}{week:9.2f}{found:9.2f}" if lost else f"{held:9.2f}"
        print(f"{f'{gain:.1%}, {form:.0%}, {lost:.0%}':30}{figures}", flush=True)


@pytest.mark.bench
def test_length_hands_and_mistakes():
    """Prints coverage of the loss by length, how often the weaker hand is named, and mistakes."""
    print(f"\n{'lost a doubling, form':30}{'held':>9}{'found':>9}")
    for lost, form in ((0.0, 0.0), (0.03, 0.0), (0.08, 0.0), (0.03, 0.02), (0.03, 0.04)):
        dice = random.Random(3)
        found = [endurance(climbed(dice, lost, form)[0]).lost for _ in range(40)]
        held = np.mean([one.low <= 100 * lost <= one.high for one in found])
        print(f"{f'{lost:.0%}, {form:.0%}':30}{held:9.2f}{np.mean([*map(is_clear, found)]):9.2f}")
        assert held > 0
    for left, right in ((110, 140), (117, 133), (125, 125)):
        found = [limb_ceilings(ladder(seed, left, right)) for seed in range(20)]
        named = [np.mean([one.limit == hand for one in found]) for hand in ("LH", "RH", "")]
        print(f"hands at {left} and {right}: left {named[0]:.2f}, right {named[1]:.2f}, ", end="")
        print(f"none {named[2]:.2f}", flush=True)
    print(f"\n{'':30}{'time':>9}{'power':>9}{'time':>9}{'power':>9}{'place':>9}")
    for kind in KINDS:
        lasting = [after_mistakes(one) for one in made(kind, 4, 4.0)]
        nothing = [after_mistakes(one) for one in made(kind, 0, 1.0)]
        cells = [
            np.mean([getattr(one, key).low <= 4 <= getattr(one, key).high for one in lasting])
            for key in ("time", "power")
        ]
        cells += [
            np.mean([getattr(one, key).value > 0 for one in nothing])
            for key in ("time", "power", "place")
        ]
        figures = "".join(f"{cell:9.2f}" for cell in cells)
        print(f"{kind + ': 4 held, 0 seen as more':30}{figures}", flush=True)


if __name__ == "__main__":
    test_ladders()
    test_rungs()
    test_forecasts()
    test_length_hands_and_mistakes()
