"""Where a pattern begins in a take, at which tempo, and how many passes were played."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import takes

from trainer.errors import BadInput
from trainer.kit.hits import Hit, Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.practice.align import align
from trainer.practice.course import Course, Pass
from trainer.practice.matcher import read_hits

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern

STEADY = takes.Player(jitter=0.007, wander=0.006, lag=0.0, wrong=0.01, stray=0.01, double=0.03)


def played(one: Pattern, tempo: float, start_s: float, passes: int, seed: int = 1) -> list[Strike]:
    """Return the strokes of some passes."""
    length = float(one.length) * 60.0 / tempo
    course = Course(one, tuple(Pass(n, tempo, start_s + n * length) for n in range(passes)))
    return list(takes.make(course, replace(STEADY, miss=0.01), seed).strikes)


def hits(one: Pattern, *strikes: Strike) -> tuple[Hit, ...]:
    """Return strokes as hits, in time order."""
    return read_hits(one, sorted(strikes, key=lambda strike: strike.time_s), GENERAL_MIDI)


@pytest.mark.parametrize("kind", ["walk", "single walk", "climb", "groove", "flams"])
@pytest.mark.parametrize("lead", ["none", "clicks", "noodling"])
def test_start_and_tempo_are_found(kind: str, lead: str) -> None:
    """After any lead-in, the start is found within 40 ms and the tempo within 0.3 %."""
    one = takes.KINDS[kind](np.random.default_rng(1))
    strikes = played(one, 103.0, 9.37, 3)
    if lead == "clicks":
        strikes += [Strike(9.37 - beat * 60 / 103.0, 37, 90) for beat in range(1, 5)]
    if lead == "noodling":
        rng = np.random.default_rng(2)
        strikes += [
            Strike(float(t), int(rng.choice([36, 38, 48])), 70) for t in rng.uniform(0, 8, 25)
        ]

    found = align(one, hits(one, *strikes))
    first = found.course.passes[0]

    assert first.tempo == pytest.approx(103.0, rel=0.003)
    assert first.start_s == pytest.approx(9.37, abs=0.04)
    assert len(found.course.passes) == 3
    assert found.tempo_from == found.start_from == "played"
    assert found.agree > 0.85


def test_the_written_tempo_is_kept_where_it_fits() -> None:
    """A take played to the file's tempo is judged by it to the last digit, from its bar line."""
    one = takes.walk()
    take = hits(one, *[replace(s, time_s=s.time_s + 0.025) for s in played(one, 120.0, 4.0, 2)])

    found = align(one, take, written=120.0)

    assert (found.course.passes[0].tempo, found.tempo_from) == (120.0, "file")
    assert (found.course.passes[0].start_s, found.start_from) == (4.0, "bar line")


@pytest.mark.parametrize("written", [60.0, 97.0, 112.0, 240.0])
def test_a_written_tempo_that_does_not_fit_is_not_believed(written: float) -> None:
    """Played at 120, a file that says another tempo is judged by what was played."""
    one = takes.walk()

    found = align(one, hits(one, *played(one, 120.0, 4.3, 3)), written=written)

    assert found.tempo_from == "played"
    assert found.course.passes[0].tempo == pytest.approx(120.0, rel=0.002)


def test_what_is_given_is_obeyed() -> None:
    """An explicit tempo and start are taken as they are, whatever was played."""
    one = takes.walk()

    found = align(one, hits(one, *played(one, 120.0, 4.3, 2)), tempo=90.0, start_s=1.25)

    assert (found.course.passes[0].tempo, found.course.passes[0].start_s) == (90.0, 1.25)
    assert (found.tempo_from, found.start_from) == ("given", "given")


def passes_of(strikes: list[Strike], one: Pattern) -> tuple[Pass, ...]:
    """Return the passes laid on strokes whose tempo and start are known."""
    return align(one, hits(one, *strikes), tempo=120.0, start_s=2.0).course.passes


def test_a_missed_last_note_is_asked_for() -> None:
    """Two whole passes without the very last stroke are two whole passes."""
    one = takes.walk()
    course = Course(one, (Pass(0, 120.0, 2.0), Pass(1, 120.0, 8.0)))
    clean = takes.make(course, replace(STEADY, miss=0, wrong=0, stray=0, double=0), 1)

    passes = passes_of(list(clean.strikes[:-1]), one)

    assert len(passes) == 2
    assert passes[-1].end_s is None


def test_stopping_on_the_way_invents_no_misses() -> None:
    """A player who stops in the middle of a pass is not asked for the rest of it."""
    one = takes.walk()
    strikes = [strike for strike in played(one, 120.0, 2.0, 2) if strike.time_s < 10.3]

    passes = passes_of(strikes, one)

    assert len(passes) == 2
    assert passes[-1].end_s == pytest.approx(10.3, abs=0.3)


def test_a_stray_after_the_end_opens_no_pass() -> None:
    """One stroke after the last pass, even in its place, does not begin another."""
    one = takes.walk()
    strikes = [*played(one, 120.0, 2.0, 2), Strike(14.0, 38, 90), Strike(16.2, 38, 60)]

    passes = passes_of(strikes, one)

    assert len(passes) == 2
    assert passes[-1].end_s is None


def random_hits(one: Pattern, count: int = 300) -> tuple[Hit, ...]:
    """Return strokes thrown at random on the pattern's drums."""
    rng = np.random.default_rng(5)
    return hits(
        one,
        *[
            Strike(float(t), int(rng.choice([36, 38, 43, 48])), 80)
            for t in rng.uniform(0, 60, count)
        ],
    )


def test_nothing_that_fits_is_refused() -> None:
    """Random strokes and another pattern are refused with the reason, not scored."""
    for one, take in (
        (takes.walk(), random_hits(takes.walk())),
        (takes.climb(), hits(takes.climb(), *played(takes.groove(), 100.0, 2.0, 6))),
    ):
        with pytest.raises(BadInput, match="not found in the take"):
            align(one, take)


@pytest.mark.parametrize("count", [0, 1, 3])
def test_too_few_notes_are_refused(count: int) -> None:
    """One note shows no start; with both given, it is judged all the same."""
    one = takes.walk()
    take = hits(one, *[Strike(2.0 + n, 38, 80) for n in range(count)])

    with pytest.raises(BadInput, match="too few"):
        align(one, take)
    assert align(one, take, tempo=120.0, start_s=2.0).course.passes


def test_a_tempo_out_of_range_is_refused() -> None:
    """500 BPM is refused before anything is looked for."""
    one = takes.walk()

    with pytest.raises(BadInput, match="out of range"):
        align(one, random_hits(one), tempo=500.0)
