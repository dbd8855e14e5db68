"""Laws of the reading: what a change of the take changes, and that nothing else moves."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from handmade import course, judged, levels, line, pattern, walk
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.measure.clean import clean_verdict
from trainer.measure.reading import read_take
from trainer.pattern.model import Level

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from trainer.practice.course import Target
    from trainer.practice.outcomes import Judged

CLIMB = levels(
    pattern(
        line("snare " * 8, value="8"),
        line("snare tom1 snare floor " * 4, start=4),  # type: ignore[arg-type]
        line("kick " * 8, value="4", limbs="K"),
    ),
    lambda i, note: (Level.ACCENT, Level.NORMAL, Level.NORMAL, Level.GHOST)[i % 4],
)
"""Eighths, then sixteenths that move, a kick underneath, accents and ghosts."""

PASSES = 3
STROKES = len(CLIMB.notes) * PASSES

offsets = st.lists(st.one_of(st.none(), st.floats(-40, 40)), min_size=STROKES, max_size=STROKES)
velocities = st.lists(st.integers(1, 127), min_size=STROKES, max_size=STROKES)
few = settings(max_examples=25, deadline=None, derandomize=True)


def _take(play: list[float | None], power: list[int] | None = None, tempo: float = 100.0) -> Judged:
    return judged(
        course(CLIMB, PASSES, tempo),
        offset_ms=lambda target: play[target.index],
        velocity=lambda target: power[target.index] if power else 90,
    )


def _values(summary: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Each number of a summary by its key; of a figure its value."""
    for name, one in summary.items():
        if isinstance(one, dict):
            if "unit" in one:
                yield f"{above}{name}", one["value"]
            else:
                yield from _values(one, f"{above}{name}.")
        else:
            yield f"{above}{name}", one


def _same(one: Any, other: Any, near: float = 1e-5) -> bool:
    """Equal, where sums of other numbers may differ in their last digits, in lists and keys too."""
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-6, abs_tol=near)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    return one == other


def _moved(
    before: dict[str, Any], after: dict[str, Any], free: tuple[str, ...] = ()
) -> dict[str, tuple[Any, Any]]:
    """The numbers that differ between two summaries, which hold the same keys.

    Keys that begin with one of `free` may differ, come and go.
    """
    first, second = (
        {key: value for key, value in _values(one) if not key.startswith(free)}
        for one in (before, after)
    )
    assert first.keys() == second.keys()
    return {key: (first[key], second[key]) for key in first if not _same(first[key], second[key])}


def _failed(summary: dict[str, Any]) -> dict[str, float]:
    """Take what failed out of a summary: what was measured, by what it is."""
    return {one["what"]: one["value"] for one in summary.pop("clean")["failed"]}


def test_a_take_equal_to_its_course_reads_zero_everywhere() -> None:
    """Every figure of time, errors and unevenness is zero or withheld, never anything else."""
    summary = read_take(judged(course(walk(2), 4)), silent=[(0.0, 10.0)]).to_dict()
    reported = {key: value for key, value in _values(summary) if isinstance(value, float)}
    apart = {"tempo_low", "tempo_high"} | {key for key in reported if key.startswith("power.")}

    assert {key: v for key, v in reported.items() if key not in apart and abs(v) > 1e-6} == {}
    assert reported["power.uneven"] == 0.0
    assert reported["power.balance"] == 0.0


@few
@given(offsets, st.floats(-300, 300))
def test_a_shift_of_all_hits_moves_the_means_and_nothing_else(
    play: list[float | None], shift: float
) -> None:
    """Later by d: every mean offset is later by d; spreads, gaps, differences and drift stay."""
    before = read_take(_take(play)).to_dict()
    after = read_take(_take([None if one is None else one + shift for one in play])).to_dict()
    before["doubt"] = after["doubt"] = ""
    moved = _moved(before, after)

    assert all(key.startswith(("offset.", "moves.")) and key.endswith(".mean") for key in moved)
    assert all(_same(was + shift, now, 1e-4) for was, now in moved.values())
    assert (
        clean_verdict(_take(play)).clean
        == clean_verdict(_take([None if one is None else one + shift for one in play])).clean
    )


@few
@given(offsets, st.floats(0.5, 3.0))
def test_another_tempo_changes_only_what_is_reported_by_the_clock(
    play: list[float | None], faster: float
) -> None:
    """The same offsets at k times the tempo: relative spread and trends times k, the rest equal."""
    before, after = (
        read_take(_take(play)).to_dict(),
        read_take(_take(play, tempo=100 * faster)).to_dict(),
    )
    before["doubt"] = after["doubt"] = ""
    # The limits of the verdict are shares of the written interval: who fails one at a tempo may
    # pass it at another. What was measured is the same wherever both fail.
    was, now = _failed(before), _failed(after)
    assert all(_same(was[what], now[what]) for what in was.keys() & now.keys())
    moved = _moved(before, after)

    assert {key.split(".")[0] for key in moved} <= {
        "tempo_low",
        "tempo_high",
        "offset",
        "evenness",
        "staying",
    }
    for key, (was, now) in moved.items():
        assert key == "offset.drift" or "relative" in key or key.startswith(("staying", "tempo"))
        if key == "offset.drift" and (was is None or now is None):
            continue  # given from a stated length on, which one of the two does not reach
        assert _same(was * faster, now, 1e-4)


@few
@given(offsets, velocities, st.integers(0, len(CLIMB.notes) - 1))
def test_swapping_equal_notes_changes_no_group(
    play: list[float | None], power: list[int], note: int
) -> None:
    """The first and last playing of one written note change places: order aside, all is equal."""
    target = course(CLIMB, PASSES).targets()
    ours = [one.index for one in target if one.note_index == note]
    swapped, strengths = list(play), list(power)
    for values in (swapped, strengths):
        values[ours[0]], values[ours[-1]] = values[ours[-1]], values[ours[0]]
    before, after = (
        read_take(_take(play, power)).to_dict(),
        read_take(_take(swapped, strengths)).to_dict(),
    )
    # Neighbours and company change: intervals, unisons, changes of value, order in time, and how
    # many strokes a mistake lasts.
    order = ("evenness.", "staying.", "offset.drift", "offset.around_wander", "sources.", "doubt")
    order = (*order, "after_mistakes.")
    # Differences are taken within blocks of strokes that follow one another.
    blocks = ("power.voices.", "power.balance", "power.accents", "power.ghosts", "moves.")

    # So does the verdict by intervals, unisons and power; strokes and spreads are the group's own,
    # though the room a spread is given depends on how much neighbours are alike.
    # A take that ends earlier now may be too short for a verdict.
    both = None not in (before["clean"]["clean"], after["clean"]["clean"])
    was, now = _failed(before), _failed(after)
    if both:
        assert {one for one in was if "strokes" in one} == {one for one in now if "strokes" in one}
    for what in was.keys() & now.keys():
        assert not ("strokes" in what or "spread" in what) or _same(was[what], now[what])

    assert _moved(before, after, ("unisons.", *order, *blocks)) == {}


@few
@given(offsets, st.floats(0, 5000))
def test_a_session_that_starts_later_reads_the_same(play: list[float | None], later: float) -> None:
    """Second 0 is nobody's business: passes and hits moved together change nothing."""
    one = _take(play)
    passes = tuple(replace(p, start_s=p.start_s + later) for p in one.course.passes)
    moved_course = replace(one.course, passes=passes)
    other = judged(moved_course, offset_ms=lambda target: play[target.index])

    assert _moved(read_take(one).to_dict(), read_take(other).to_dict()) == {}


@few
@given(offsets, velocities)
def test_no_figure_is_ever_outside_its_interval_or_not_a_number(
    play: list[float | None], power: list[int]
) -> None:
    """Values are finite, inside their intervals, and withheld ones say why."""

    def check(part: dict[str, Any]) -> None:
        for one in part.values():
            if isinstance(one, dict) and "unit" in one:
                if one["value"] is None:
                    assert one["why"]
                    continue
                assert math.isfinite(one["value"])
                if one["low"] is not None:
                    slack = 1e-9 + 1e-9 * abs(one["value"])
                    assert one["low"] - slack <= one["value"] <= one["high"] + slack
            elif isinstance(one, dict):
                check(one)

    check(read_take(_take(play, power)).to_dict())


@few
@given(offsets, st.permutations(range(PASSES)))
def test_the_order_of_passes_is_no_matter_to_groups(
    play: list[float | None], order: list[int]
) -> None:
    """Whole passes in another order keep every group, interval and unison as it was."""
    size = len(CLIMB.notes)
    by_pass = [play[at * size : (at + 1) * size] for at in range(PASSES)]
    other = [one for at in order for one in by_pass[at]]
    moved = _moved(read_take(_take(play)).to_dict(), read_take(_take(other)).to_dict())

    assert [key for key in moved if not key.startswith(("staying.", "sources."))] == []


def _mirror(make: Callable[[Target], float | None]) -> Callable[[Target], float | None]:
    return lambda target: None if (one := make(target)) is None else -one


@few
@given(offsets)
def test_early_and_late_are_mirror_images(play: list[float | None]) -> None:
    """Every offset turned round turns every signed figure round, and no size."""
    taken = course(CLIMB, PASSES)
    before = read_take(judged(taken, offset_ms=lambda t: play[t.index])).offset
    after = read_take(judged(taken, offset_ms=_mirror(lambda t: play[t.index]))).offset

    if before.mean.value is not None:
        assert after.mean.value == pytest.approx(-before.mean.value, abs=1e-6)
    if before.drift.value is not None:
        assert after.drift.value == pytest.approx(-before.drift.value, abs=1e-4)
    if before.spread.value is not None:
        assert after.spread.value == pytest.approx(before.spread.value, abs=1e-6)
