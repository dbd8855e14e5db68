"""Coverage and power of what the program says of a take: how often it is right, and finds a fault.

Two-minute takes of players whose errors are white, wander (AR(1)), pink or wander limb by limb
(tests/simulated_takes.py). Coverage is the share of 95 % intervals that hold the truth; power the
share of takes in which a fault of the stated size is found. Run with

    python -m pytest tests/bench/bench_intervals.py -s
    python -m tests.bench.bench_intervals
"""

from __future__ import annotations

import math
import random
import re
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from handmade import course, judged, levels, line, pattern
from simulated_takes import KINDS, clean_chance, still_take, takes

from trainer.measure.ceiling import LN3, RungOutcome, ceiling_history
from trainer.measure.comparison import compare_readings
from trainer.measure.evenness import evenness
from trainer.measure.figure import plain_values
from trainer.measure.offset import offsets
from trainer.measure.power import power
from trainer.measure.stroke_group import moves
from trainer.measure.take_arrays import LEFT_HAND, take_arrays
from trainer.measure.trend import take_trends
from trainer.measure.unison import unisons
from trainer.pattern.model import Level
from trainer.practice.ladder import ADAPTIVE, STEADY, Ladder, first_standing, next_standing

TRIALS = 100


def summary(frame):
    """What `compare` reads of a take."""
    return {
        "offset": plain_values(offsets(frame)),
        "evenness": plain_values(evenness(frame)),
        "unisons": plain_values(unisons(frame)),
        "power": plain_values(power(frame)),
        "staying": plain_values(take_trends(frame)),
        "moves": plain_values(moves(frame)),
    }


def at(reported, way):
    """The value at a place of a summary."""
    for step in way.split("."):
        reported = reported[step]
    return reported


SPREADS = ("offset.around_wander", "offset.spread", "offset.by_limb.RH.spread", "evenness.spread")
SPREADS += ("power.uneven",)
MEANS = ("offset.mean", "offset.by_limb.RH.mean", "power.balance", "power.voices.tom1")
MEANS += ("moves.by_move.RH snare to tom1.later", "staying.session.power", "staying.session.spread")


def coverage(reported, way):
    """The share of intervals that hold the truth: none for means, what takes share for spreads."""
    found = [at(one, way) for one in reported]
    truth = math.sqrt(np.mean([one["value"] ** 2 for one in found])) if way in SPREADS else 0.0
    return np.mean([one["low"] <= truth <= one["high"] for one in found])


def faults(frame):
    """Takes with a fault each: its words, what is taken off the power, and where it shows."""
    tom = frame.voice == frame.names["voice"].index("tom1")
    yield "left hand 2 steps softer", 2.0 * (frame.limb == LEFT_HAND), "power.balance", "low"
    yield "one drum 24 steps softer", 24.0 * tom, "power.voices.tom1", "high"
    yield "fade of 30 steps", 30 * frame.time_s / 120, "staying.session.power", "high"


def rows_of(kind, trials=TRIALS):
    """The column of one kind of player: (words, share), in order."""
    made = takes(1, kind, trials)
    reported = [summary(one) for one in made]
    for way in (*SPREADS, *MEANS):
        yield f"coverage of {way}", coverage(reported, way)
    changes = [compare_readings(*pair) for pair in zip(reported[::2], reported[1::2], strict=True)]
    yield (
        "same player, compare says changed",
        np.mean([any(one.beyond_chance for one in rows) for rows in changes]),
    )
    other = takes(2, kind, trials)
    tight = [replace(one, offset_ms=0.8 * one.offset_ms) for one in other]
    found = [compare_readings(a, summary(b))[0] for a, b in zip(reported, tight, strict=True)]
    yield "compare finds a spread 20 % smaller", np.mean([one.better is True for one in found])
    for words, less, way, end in faults(still_take()):
        ends = [at(summary(replace(one, velocity=one.velocity - less)), way) for one in made]
        yield (
            f"found: {words}",
            np.mean([one["low"] > 0 if end == "low" else one["high"] < 0 for one in ends]),
        )


def shown(reported, way=""):
    """Yield every figure with an interval, by its place; places in a bar are one."""
    for key, one in reported.items():
        place = f"{way}.{key}".removeprefix(".")
        if isinstance(one, dict) and "low" in one:
            if one["low"] is not None:
                yield re.sub(r"by_(step|bar)\.[^.]+", r"by_\1.*", place), one
        elif isinstance(one, dict):
            yield from shown(one, place)


@cache
def rich_take():
    """Two minutes with accents, ghosts, unisons, moves and changes of note value."""
    hands = line("snare tom1 " * 8) + line("snare snare " * 4, value="8", start=4)
    feet = line("kick " * 8, value="4", limbs="K")
    written = levels(pattern(hands, feet), lambda i, _: LEVELS[i % 4])
    power = {Level.ACCENT: 110, Level.GHOST: 40, Level.NORMAL: 75}
    played = judged(course(written, 25), velocity=lambda target: power[target.note.level])
    return take_arrays(played)


LEVELS = (Level.ACCENT, Level.GHOST, Level.NORMAL, Level.NORMAL)
ROOM = 0.03


def shown_coverage(made):
    """How often each shown interval holds what the takes have together."""
    found = {}
    for one in made:
        for place, figure in shown(summary(one)):
            found.setdefault(place, []).append(figure)
    for place, figures in found.items():
        values = np.array([one["value"] for one in figures])
        wide = re.search("spread|uneven|wander$", place)
        truth = math.sqrt(np.mean(values**2)) if wide else np.mean(values)
        if len(figures) >= TRIALS / 2 and np.ptp(values) > 0:
            yield place, np.mean([one["low"] <= truth <= one["high"] for one in figures])


@pytest.mark.bench
def test_every_shown_interval():
    """Prints the coverage of every interval of two kinds of take; * more than 3 points too low."""
    for words, frame, growth in (
        ("fives and threes", still_take(), 0.0),
        ("accents and changes", rich_take(), 0.0),
        ("accents and changes, a third tighter at the end", rich_take(), -1 / 3),
    ):
        scale = 1 + growth * frame.time_s / frame.time_s.max()
        columns = {
            kind: dict(
                shown_coverage(
                    replace(one, offset_ms=one.offset_ms * scale)
                    for one in takes(13, kind, TRIALS, frame)
                )
            )
            for kind in KINDS
        }
        print(f"\n{words:52}" + "".join(f"{kind:>9}" for kind in KINDS))
        for place in columns[KINDS[0]]:
            cells = [columns[kind].get(place, math.nan) for kind in KINDS]
            figures = "".join(f"{one:8.2f}{'*' if one < 0.95 - ROOM else ' '}" for one in cells)
            print(f"{place:52}{figures}", flush=True)
        assert columns["white"]


@pytest.mark.bench
def test_intervals():
    """Prints the table; the bounds are in tests/measure/test_intervals.py."""
    columns = [list(rows_of(kind)) for kind in KINDS]
    print(f"\n{'':45}" + "".join(f"{kind:>9}" for kind in KINDS))
    for row in zip(*columns, strict=True):
        print(f"{row[0][0]:45}" + "".join(f"{share:9.2f}" for _, share in row))
    assert all(math.isfinite(share) for column in columns for _, share in column)


EVENINGS = {
    "still": (0.0, 0.0, 12),
    "gains 0.1 % a session": (0.001, 0.0, 30),
    "gains 0.2 % a session": (0.002, 0.0, 30),
    "gains 0.5 % a session": (0.005, 0.0, 30),
    "form of 2 % by the day": (0.0, 0.02, 15),
    "form of 4 % by the day": (0.0, 0.04, 15),
    "gains 0.5 %, form of 2 %": (0.005, 0.02, 30),
    "first evening": (0.0, 0.02, 1),
}
"""Gain a session, form by the day (both as shares of the ceiling), and how many evenings."""


def climbed(dice, gain, form, evenings):
    """One player's rungs by the evening, with the true level and slope at the end."""
    level, share, parts = dice.uniform(80, 200), dice.uniform(0.02, 0.08), []
    start, rule = 0.8 * level, dice.choice((STEADY, ADAPTIVE))
    for evening in range(evenings):
        level *= 1 + gain * bool(evening)
        middle = level * math.exp(dice.gauss(0, form))
        ladder, played = Ladder(max(20.0, start), 2.0, rule=rule), []
        standing = first_standing(ladder)
        for _ in range(20):
            clean = dice.random() < clean_chance(standing.tempo, middle, share * middle)
            played.append(RungOutcome(standing.tempo, clean))
            standing = next_standing(ladder, standing, clean)
        parts.append((1.0, played))
        start = 0.92 * played[-1].tempo
    return parts, level, share


@pytest.mark.bench
def test_ceilings():
    """Prints how often the 90 % interval holds, how often "safe" is wrong, and the error."""
    print(f"\n{'':28}{'ceiling':>9}{'3 in 4':>9}{'unsafe':>9}{'error':>9}")
    for words, player in EVENINGS.items():
        dice, rows = random.Random(7), []
        for _ in range(TRIALS):
            parts, level, share = climbed(dice, *player)
            found, lower = ceiling_history(parts)[-1], level * (1 - share * LN3)
            half, sure = found.half, found.three_quarters
            rows.append((half.low <= level <= half.high, sure.low <= lower <= sure.high))
            rows[-1] += (sure.low > lower, (half.tempo / level - 1) ** 2)
        held, three, unsafe, square = np.mean(rows, axis=0)
        reported = f"{held:9.2f}{three:9.2f}{unsafe:9.2f}{100 * math.sqrt(square):8.1f}%"
        print(f"{words:28}{reported}", flush=True)
        assert held > unsafe


if __name__ == "__main__":
    test_intervals()
    test_ceilings()
