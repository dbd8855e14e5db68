"""How right and how fast the matching is, beside nearest-target and mir_eval's matching.

Right is the share of hits with the target that was meant, or rightly with none; plain is that of
the hits whose truth is plain (takes.plain), in the whole take and live. Players are drawn anywhere
in the stated ranges (tests/takes.py) from a seed of the day, and again with nothing wrong; the
takes below the line are outside the ranges. Times are those of this one run, mir_eval's beside
ours. Run with

    python -m pytest tests/bench/bench_matcher.py -s    or    python -m tests.bench.bench_matcher
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import mir_eval
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import takes

from trainer.kit.hits import Hit, Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.practice.matcher import LiveTake, judge, match_take, read_hits

if TYPE_CHECKING:
    from trainer.practice.course import Target

WINDOW_S = 0.050
STATED = ("walk", "single walk", "climb")
BESIDE = ("roll", "flams", "groove")


def nearest(take: takes.Take) -> tuple[int | None, ...]:
    """The plain way: each hit takes the nearest free target of its own voice within the window."""
    targets = take.course.targets()
    free = {target.index for target in targets}
    times = np.array([target.time_s for target in targets])
    found: list[int | None] = []
    for hit in read_hits(take.course.pattern, take.strikes, GENERAL_MIDI):
        first, last = np.searchsorted(times, [hit.time_s - WINDOW_S, hit.time_s + WINDOW_S])
        near = [n for n in range(first, last) if n in free and targets[n].note.voice == hit.voice]
        best = min(near, key=lambda n: abs(times[n] - hit.time_s), default=None)
        free.discard(best)
        found.append(best)
    return tuple(found)


def mir(take: takes.Take) -> tuple[int | None, ...]:
    """mir_eval's largest matching, voice by voice."""
    targets = take.course.targets()
    hits = read_hits(take.course.pattern, take.strikes, GENERAL_MIDI)
    found: list[int | None] = [None] * len(hits)
    for voice in {target.note.voice for target in targets}:
        own = [target for target in targets if target.note.voice == voice]
        struck = [hit for hit in hits if hit.voice == voice]
        pairs = mir_eval.util.match_events(
            np.array([one.time_s for one in own]),
            np.array([one.time_s for one in struck]),
            WINDOW_S,
        )
        for due, hit in pairs:
            found[struck[hit].index] = own[due].index
    return tuple(found)


def ours(take: takes.Take) -> tuple[int | None, ...]:
    """The matcher, over the whole take."""
    return judge(take.course, take.strikes, GENERAL_MIDI).hit_target


def live(take: takes.Take) -> tuple[tuple[int | None, ...], list[float], int]:
    """The matcher hit by hit: final targets, seconds each hit took, and how many were revised."""
    one = LiveTake(GENERAL_MIDI, take.course.pattern)
    one.begin(take.course.targets())
    reported: dict[int, int | None] = {}
    spent = []
    for strike in take.strikes:
        before = time.perf_counter()
        verdicts = one.strike(strike)[1]
        spent.append(time.perf_counter() - before)
        reported |= {v.hit: v.target for v in verdicts if v.final and v.hit is not None}
    reported |= {v.hit: v.target for v in one.finish() if v.hit is not None}
    return tuple(reported[n] for n in range(len(take.strikes))), spent, one._matcher.revised


def compare(title: str, drawn: list[takes.Take]) -> dict[str, float]:
    """Print a row of right shares, mean and least, and return our own."""
    rows = {}
    for name, way in (("ours", ours), ("nearest", nearest), ("mir_eval", mir)):
        rows[name] = np.array([takes.share_right(take, way(take)) for take in drawn])
    same, spent, revised, hits, plain = [], [], 0, 0, []
    for take in drawn:
        reported, seconds, changed = live(take)
        whole, sure = ours(take), takes.plain(take)
        same.append(np.mean([a == b for a, b in zip(reported, whole, strict=True)]))
        plain.append([takes.share_right(take, way, sure) for way in (whole, reported)])
        spent += seconds
        revised += changed
        hits += len(reported)
    shares = "  ".join(f"{name} {row.mean():.4f} ({row.min():.4f})" for name, row in rows.items())
    both = np.mean(plain, axis=0)
    middle, slow = 1e6 * np.quantile(spent, [0.5, 0.99])
    print(
        f"{title:14} {hits:6} hits  {shares}  plain {' live '.join(map('{:.5f}'.format, both))}"
        f"  live = whole {np.mean(same):.4f}"
        f"  revised {revised / hits:.2%}  {middle:.0f} us a hit, 99th {slow:.0f}"
    )
    return {
        "mean": float(rows["ours"].mean()),
        "least": float(rows["ours"].min()),
        "plain": float(min(both)),
    }


def long_take(hits: int, player: takes.Player) -> tuple[list[Target], list[Hit]]:
    """Return a walk at 120 BPM, one made take put end to end until it has so many hits."""
    course = takes.lay(takes.walk(), 120.0, 400.0)
    take = takes.make(course, player, 1)
    targets = course.targets()
    heard = read_hits(course.pattern, take.strikes, GENERAL_MIDI)
    times = max(1, round(hits / len(heard)))
    shifts = [(targets[-1].time_s + 1.0) * n for n in range(times)]
    return (
        [replace(one, time_s=one.time_s + shift) for shift in shifts for one in targets],
        [replace(one, time_s=one.time_s + shift) for shift in shifts for one in heard],
    )


def speed(title: str, hits: int, player: takes.Player) -> float:
    """Print what a hit of a whole take costs beside mir_eval's matching; return microseconds."""
    targets, heard = long_take(hits, player)
    before = time.process_time()
    match_take(targets, heard)
    between = time.process_time()
    mir_eval.util.match_events(
        np.array([one.time_s for one in targets]), np.array([one.time_s for one in heard]), WINDOW_S
    )
    ours_s, mir_s = between - before, time.process_time() - between
    print(
        f"{title:14} {len(heard):8} hits  {ours_s:.2f} s, {ours_s / len(heard) * 1e6:.1f} us a hit;"
        f" mir_eval {mir_s:.2f} s: {ours_s / mir_s:.1f} times its time"
    )
    return ours_s / len(heard) * 1e6


PLAYERS = {
    "clean": takes.Player(miss=0, wrong=0, stray=0, double=0),
    "good": takes.Player(miss=0.01, wrong=0.01, stray=0.01, double=0.02),
    "middling": takes.Player(),
    "worst stated": takes.Player(miss=0.05, wrong=0.05, stray=0.05, double=0.15),
}


LENGTHS = (5_000, 20_000, 100_000)


def bench(seed: int, count: int) -> tuple[dict[str, dict[str, float]], list[list[float]]]:
    """Print the whole table; return the right shares by kind, and costs by player and length."""
    print(f"\nright targets: mean (least) of {count} takes of 30 s a row, seed {seed}")
    right = {
        kind: compare(kind, [takes.draw(kind, seed + n, 30.0) for n in range(count)])
        for kind in (*STATED, *BESIDE)
    }
    print("nothing wrong")
    for kind in (*STATED, *BESIDE):
        drawn = [takes.draw(kind, seed + n, 30.0, **takes.STEADY) for n in range(count)]
        right[f"steady {kind}"] = compare(kind, drawn)
    print("outside the stated ranges")
    compare("stops", [takes.draw("walk", seed + n, 30.0, stops=2) for n in range(count)])
    compare("lag -0.4 s", [takes.draw("walk", seed + n, 30.0, lag=-0.4) for n in range(count)])
    print("processor time of whole takes (the same onsets, the same run)")
    return right, [[speed(name, hits, one) for hits in LENGTHS] for name, one in PLAYERS.items()]


STRAYS = {
    "unknown note": ([60], 10),
    "pads not asked": ([49, 51, 57], 10),
    "any pad": ([36, 38, 43, 44, 48, 49, 60], 10),
    "flood": (list(range(35, 83)), 2000),
}
"""Strokes that fit nothing: their notes, and how many come in a second."""


def strays(title: str, seed: int) -> float:
    """Print what a stroke that fits nothing costs against one that fits; return the ratio."""
    notes, rate = STRAYS[title]
    rng = np.random.default_rng(seed)
    take = takes.make(takes.lay(takes.walk(), 120.0, 30.0), PLAYERS["good"], seed)
    start = take.strikes[0].time_s
    times = [start + n / rate for n in range(min(1500, 25 * rate))]
    odd = [Strike(at, int(rng.choice(notes)), int(rng.integers(1, 128))) for at in times]
    fitting_s, stray_s = (
        float(np.median(live(one)[1]))
        for one in (take, replace(take, strikes=tuple(odd), truth=(None,) * len(odd)))
    )
    print(
        f"{title:14} {len(odd):6} strays  {stray_s / fitting_s:.1f} times a fitting stroke's cost"
    )
    return stray_s / fitting_s


def memory(title: str, strokes: int, note: int | None) -> float:
    """Print how memory grows while strokes are judged live; return bytes a stroke."""
    held = takes.memory_of_matching(strokes, note)
    half = len(held) // 2
    grown = (max(held[half:]) - max(held[1:half])) / (strokes / 2)
    print(f"{title:14} {strokes:6} strokes  {max(held) / 1024:.0f} KiB, {grown:.2f} bytes a stroke")
    return grown


@pytest.mark.bench
def test_strays_are_cheap_and_memory_is_flat() -> None:
    """A stroke that fits nothing costs about what a fitting one does, and nothing is kept of it."""
    print("\nstrokes that fit nothing, medians in one run")
    for title in STRAYS:
        assert strays(title, 7) < 4.0
    print("memory of 100,000 strokes judged live")
    assert memory("on the dot", 100_000, None) < 1.0
    assert memory("unknown note", 100_000, 60) < 1.0


@pytest.mark.bench
def test_right_and_linear() -> None:
    """The stated takes come out right, and a hit of a long take costs what one of a short does."""
    seed = int(np.random.SeedSequence().generate_state(1)[0])

    right, costs = bench(seed, 8)

    assert np.mean([right[kind]["mean"] for kind in STATED]) >= 0.994
    assert np.mean([row["plain"] for row in right.values()]) >= 0.998
    assert np.mean([right[f"steady {kind}"]["mean"] for kind in STATED]) >= 0.9998
    assert all(long <= 2.0 * short for short, _, long in costs)


if __name__ == "__main__":
    bench(int(np.random.SeedSequence().generate_state(1)[0]), 20)
