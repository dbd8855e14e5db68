"""Takes that keep no single count: breaks are found, drift is followed, and only where there is."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import takes

from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.library import load_pattern
from trainer.practice.align import align
from trainer.practice.course import Course, Pass, beat_time, pass_targets
from trainer.practice.matcher import judge, read_hits
from trainer.show.assess_words import assessed_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.kit.hits import Strike
    from trainer.pattern.model import Pattern
    from trainer.practice.align import Alignment

CLEAN = takes.Player(jitter=0.007, wander=0.0, lag=0.0, miss=0, wrong=0, stray=0, double=0)
ORDERS = load_pattern("fives-and-threes")


def warped(
    one: Pattern, when: Callable[[float], float], passes: int = 3, player: takes.Player = CLEAN
) -> list[Strike]:
    """The strokes of some passes at 100 BPM from 2 s on, each moved to `when` its time says."""
    length_s = float(one.length) * 0.6
    course = Course(one, tuple(Pass(n, 100.0, 2.0 + n * length_s) for n in range(passes)))
    made = takes.make(course, player, 31).strikes
    return sorted(
        (replace(one, time_s=when(one.time_s)) for one in made), key=lambda one: one.time_s
    )


def laid(strikes: Sequence[Strike], one: Pattern = ORDERS) -> Alignment:
    """The course found on strokes whose file says 100 BPM."""
    return align(one, read_hits(one, strikes, GENERAL_MIDI), written=100.0)


def spread_ms(found: Alignment, strikes: Sequence[Strike]) -> float:
    """The standard deviation of all offsets, in ms."""
    take = judge(found.course, strikes, GENERAL_MIDI)
    offsets = [take.offset_s(one.index) for one in take.targets]
    return float(np.std([one for one in offsets if one is not None])) * 1000


@pytest.mark.parametrize("gap_s", [2.3, 0.4, 7.05])
@pytest.mark.parametrize("at_s", [20.0, 26.0, 41.0])
def test_a_break_is_found_and_the_pass_goes_on_behind_it(at_s: float, gap_s: float) -> None:
    """Every stroke is one of the three passes, wherever the take was stopped and for how long."""
    strikes = warped(ORDERS, lambda time_s: time_s + gap_s * (time_s >= at_s))
    found = laid(strikes)

    (cut,) = found.breaks
    times = [one.time_s for one in strikes]
    assert bisect_right(times, cut.last_s) == sum(one < at_s for one in times)
    assert found.course.begun == 3
    take = judge(found.course, strikes, GENERAL_MIDI)
    assert set(take.target_outcome) == {"played"}
    assert len(take.targets) == len(strikes)
    assert found.course.passes[0].start_s == pytest.approx(2.0, abs=0.02)
    assert spread_ms(found, strikes) < 9.0


def test_a_drifting_take_is_followed_and_called_unsteady() -> None:
    """A tempo that rises by 4 % over three passes leaves the jitter alone in the offsets."""
    strikes = warped(ORDERS, lambda time_s: time_s - 0.04 * (time_s - 2.0) ** 2 / 2 / 86.4)
    found = laid(strikes)

    assert found.swing_s > 0.2
    assert found.tempo_from == "played"
    assert found.course.begun == 3
    tempos = [one.tempo for one in found.course.passes]
    # A piece's tempo is known to some 0.15 BPM, two of them differ by 0.2: three times that.
    assert np.diff(tempos).min() > -0.6
    assert (tempos[0], tempos[-1]) == pytest.approx((100.0, 104.0), abs=0.6)
    assert found.fit > 0.9
    assert spread_ms(found, strikes) < 9.0
    assert set(judge(found.course, strikes, GENERAL_MIDI).target_outcome) == {"played"}


@pytest.mark.parametrize("kind", ["walk", "single walk", "climb", "groove", "flams"])
def test_a_take_to_a_click_has_no_break_and_one_tempo(kind: str) -> None:
    """Wander, misses, wrong pads, strays and doubles are no reason to follow."""
    one = takes.KINDS[kind](np.random.default_rng(3))
    rough = takes.Player(lag=0.0)
    found = laid(warped(one, lambda time_s: time_s, 4, rough), one)

    assert found.breaks == ()
    assert found.swing_s == 0.0
    assert {each.tempo for each in found.course.passes} == {100.0}


def words(found: Alignment, take: SimpleNamespace) -> list[str]:
    """Return what is said of a take in which a pattern was found."""
    return [*assessed_lines(SimpleNamespace(found=found, take=take, trusted_file=True, fills=()))]


def test_breaks_and_drift_are_reported_in_words() -> None:
    """What was found stands between tempo and start, and nothing of it for a steady take."""
    file = SimpleNamespace(name="take", tempo=100.0, remarks=())
    cut = laid(warped(ORDERS, lambda time_s: time_s + 2.3 * (time_s >= 26.0)))
    moved = laid(warped(ORDERS, lambda time_s: time_s - 0.04 * (time_s - 2.0) ** 2 / 2 / 86.4))
    still = laid(warped(ORDERS, lambda time_s: time_s))

    (reported,) = [text for text in words(cut, file) if text.startswith("Break: ")]
    assert re.search(r"at 26\.00 s .* continues 2\.3\d s late at 28\.4\d s\.$", reported)
    reported = "\n".join(words(moved, file))
    assert re.search(
        r"Tempo: (99\.\d+|100\.?\d*) to 104\S* BPM, as played \(the file says 100\)", reported
    )
    assert re.search(r"No steady tempo: the strokes run to and fro by \d+ ms", reported)
    assert not re.search("Break|steady", "\n".join(words(still, file)))


def test_pieces_of_a_pass_ask_for_every_stroke_once() -> None:
    """A pass cut in two at any beat has the targets of the whole, at the same times."""
    whole = Pass(0, 100.0, 2.0)
    cut_s = beat_time(ORDERS, whole, 7) - 1e-6
    parts = replace(whole, end_s=cut_s), replace(whole, index=1, from_s=cut_s)
    due = [one.time_s for part in parts for one in pass_targets(ORDERS, part, 0)]

    assert due == [one.time_s for one in pass_targets(ORDERS, whole, 0)]
    assert Course(ORDERS, parts).begun == 1
