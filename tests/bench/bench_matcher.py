"""How right and how fast the matching is, beside nearest-target and mir_eval's matching.

Right is the share of hits with the target that was meant, or rightly with none. Players are drawn
anywhere in the stated ranges (tests/takes.py) from a seed of the day; the takes below the line are
outside them. Speed is a ratio of times in this one run. Run with

    python -m pytest tests/bench/bench_matcher.py -s    or    python -m tests.bench.bench_matcher
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import mir_eval
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import takes

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.practice.matcher import LiveTake, judge, read_hits
from trainer.practice.whole_take import match_in_arrays, match_take
from trainer.practice.whole_take_arrays import TakeArrays, take_arrays_of

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
    told: dict[int, int | None] = {}
    spent = []
    for strike in take.strikes:
        before = time.perf_counter()
        verdicts = one.strike(strike)[1]
        spent.append(time.perf_counter() - before)
        told |= {v.hit: v.target for v in verdicts if v.final and v.hit is not None}
    told |= {v.hit: v.target for v in one.finish() if v.hit is not None}
    return tuple(told[n] for n in range(len(take.strikes))), spent, one._matcher.revised


def compare(title: str, drawn: list[takes.Take]) -> dict[str, float]:
    """Print a row of right shares, mean and least, and return our own."""
    rows = {}
    for name, way in (("ours", ours), ("nearest", nearest), ("mir_eval", mir)):
        rows[name] = np.array([takes.share_right(take, way(take)) for take in drawn])
    same, spent, revised, hits = [], [], 0, 0
    for take in drawn:
        told, seconds, changed = live(take)
        same.append(np.mean([a == b for a, b in zip(told, ours(take), strict=True)]))
        spent += seconds
        revised += changed
        hits += len(told)
    shares = "  ".join(f"{name} {row.mean():.4f} ({row.min():.4f})" for name, row in rows.items())
    middle, slow = 1e6 * np.quantile(spent, [0.5, 0.99])
    print(
        f"{title:14} {hits:6} hits  {shares}  live = whole {np.mean(same):.4f}"
        f"  revised {revised / hits:.2%}  {middle:.0f} us a hit, 99th {slow:.0f}"
    )
    return {"mean": float(rows["ours"].mean()), "least": float(rows["ours"].min())}


def long_take(hits: int, player: takes.Player) -> TakeArrays:
    """Return the columns of a walk at 120 BPM, one made take put end to end until long enough."""
    course = takes.lay(takes.walk(), 120.0, 1200.0)
    take = takes.make(course, player, 1)
    targets = course.targets()
    one, _, _ = take_arrays_of(targets, read_hits(course.pattern, take.strikes, GENERAL_MIDI))
    times = max(1, round(hits / len(one.hit_s)))
    shift = (targets[-1].time_s + 1.0) * np.arange(times)[:, None]
    return replace(
        one,
        due_s=(one.due_s + shift).ravel(),
        hit_s=(one.hit_s + shift).ravel(),
        **{
            name: np.tile(getattr(one, name), times)
            for name in ("due_voice", "due_limb", "due_level", "hit_voice", "hit_pad", "velocity")
        },
    )


def speed(title: str, take: TakeArrays) -> float:
    """Print how many times as fast as mir_eval's matching of the same onsets, and return it."""
    before = time.perf_counter()
    match_in_arrays(take)
    between = time.perf_counter()
    mir_eval.util.match_events(take.due_s, take.hit_s, WINDOW_S)
    ours_s, mir_s = between - before, time.perf_counter() - between
    print(
        f"{title:14} {len(take.hit_s):8} hits  {ours_s / len(take.hit_s) * 1e6:.2f} us a hit,"
        f" mir_eval {mir_s / len(take.hit_s) * 1e6:.2f}: {mir_s / ours_s:.1f} times as fast"
    )
    return mir_s / ours_s


PLAYERS = {
    "clean": takes.Player(miss=0, wrong=0, stray=0, double=0),
    "good": takes.Player(miss=0.01, wrong=0.01, stray=0.01, double=0.02),
    "middling": takes.Player(),
    "worst stated": takes.Player(miss=0.05, wrong=0.05, stray=0.05, double=0.15),
}


def bench(seed: int, count: int, hits: int) -> tuple[dict[str, dict[str, float]], dict[str, float]]:
    """Print the whole table; return the right shares by kind and the speeds by player."""
    print(f"\nright targets: mean (least) of {count} takes of 30 s a row, seed {seed}")
    right = {
        kind: compare(kind, [takes.draw(kind, seed + n, 30.0) for n in range(count)])
        for kind in (*STATED, *BESIDE)
    }
    compare("stops", [takes.draw("walk", seed + n, 30.0, stops=2) for n in range(count)])
    compare("lag -0.4 s", [takes.draw("walk", seed + n, 30.0, lag=-0.4) for n in range(count)])
    print("speed over whole takes (the same onsets, the same run)")
    objects(seed)
    return right, {name: speed(name, long_take(hits, one)) for name, one in PLAYERS.items()}


def objects(seed: int) -> None:
    """Print what a whole take costs from Target and Hit objects to outcomes."""
    take = takes.draw("walk", seed, 1200.0)
    hits = read_hits(take.course.pattern, take.strikes, GENERAL_MIDI)
    targets = take.course.targets()
    before = time.perf_counter()
    match_take(targets, hits)
    spent = time.perf_counter() - before
    print(f"{'with objects':14} {len(hits):8} hits  {spent / len(hits) * 1e6:.2f} us a hit")


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
def test_right_and_fast() -> None:
    """The stated takes come out right, and three times as fast as mir_eval's matching."""
    seed = int(np.random.SeedSequence().generate_state(1)[0])

    right, speeds = bench(seed, 8, 200_000)

    assert np.mean([right[kind]["mean"] for kind in STATED]) >= 0.991
    assert speeds["middling"] >= 3.0


if __name__ == "__main__":
    bench(int(np.random.SeedSequence().generate_state(1)[0]), 20, 1_000_000)
