"""The hard spot: its worst bar is found, how it was played, and whether that changed."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest
from handmade import course, judged, walk

from trainer.actions.hard_spot import SLOWER, hard_spot, spot_result
from trainer.actions.replay import replay_file
from trainer.engine.job import Engine, Job
from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.hard_spot import (
    BETTER,
    SAME,
    WORSE,
    spot_change,
    spot_figures,
    strokes_by_bar,
    worst_bar,
)
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import EXACT_TRAITS, SimulatedPlayer
from trainer.pattern.library import load_pattern
from trainer.practice.plan import SteadyPlan

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from trainer.practice.course import Target
    from trainer.practice.outcomes import Judged

BARS, HARD = 4, 2


def bar_of(target: Target) -> int:
    """The bar of a stroke of a pattern in 4/4."""
    return int(target.note.beat // 4)


def played(in_the_bar: Callable[[Target], float | None], jitter_ms: float = 4.0) -> Judged:
    """Four bars, four times: `in_the_bar` says how far off strokes of the hard bar are."""
    rng = random.Random(3)

    def offset(target: Target) -> float | None:
        usual = rng.gauss(0.0, jitter_ms)
        return in_the_bar(target) if bar_of(target) == HARD else usual

    return judged(course(walk(BARS), 4), offset_ms=offset)


def wide(seed: int, jitter_ms: float) -> Callable[[Target], float]:
    """Strokes that are off by chance."""
    rng = random.Random(seed)
    return lambda target: rng.gauss(0.0, jitter_ms)


def some_missed(target: Target) -> float | None:
    """Every third stroke is left out."""
    return None if target.index % 3 == 0 else 0.0


@pytest.mark.parametrize("hard", [some_missed, wide(5, 40.0), wide(5, 6.0)])
def test_the_worst_bar_is_the_one_with_faults_or_the_wider_one(
    hard: Callable[[Target], float | None],
) -> None:
    """Faults, a spread over its limit, or the widest spread of bars that are all clean."""
    take = played(hard, 2.0)
    assert worst_bar(take) == HARD
    assert sorted(strokes_by_bar(take)) == list(range(BARS))


def test_a_take_without_a_stroke_has_a_first_bar_that_is_as_bad_as_all() -> None:
    """All bars are missed alike, so the first of them; without a pass there is no bar."""
    take = judged(course(walk(BARS), 1), offset_ms=lambda target: None)
    assert worst_bar(take) == 0
    figures = spot_figures(take, [0])
    assert (figures.clean, figures.faults.value) == (False, 100.0)
    assert figures.spread.value is None
    assert worst_bar(judged(course(walk(BARS), 0))) is None


def test_figures_are_of_the_bars_of_the_spot_alone() -> None:
    """What is missed in another bar is not the spot's."""
    take = played(some_missed)
    spot, other = spot_figures(take, [HARD]), spot_figures(take, [0, 1])
    assert spot.strokes * 2 == other.strokes
    assert spot.faults.value == pytest.approx(100 / 3, abs=1.0)
    assert other.faults.value == 0.0
    assert other.clean is not spot.clean is False


@pytest.mark.parametrize(
    ("before", "after", "change"),
    [
        (some_missed, wide(1, 4.0), BETTER),
        (wide(1, 4.0), some_missed, WORSE),
        (wide(1, 40.0), wide(2, 8.0), BETTER),
        (wide(1, 8.0), wide(2, 40.0), WORSE),
        (wide(1, 5.0), wide(2, 5.0), SAME),
    ],
)
def test_a_spot_got_better_worse_or_stayed(
    before: Callable[[Target], float | None],
    after: Callable[[Target], float | None],
    change: str,
) -> None:
    """By its faults, else by its spread; what chance alone would do is no change."""
    figures = [spot_figures(played(one), [HARD]) for one in (before, after)]
    assert spot_change(figures[0], figures[1]) == change


# Practising it

CLIMB = "climb-and-drop"


class Stumbling(SimulatedPlayer):
    """Plays exactly, but leaves out every second stroke of one bar."""

    bar: int | None = 1

    def expect(self, targets: Sequence[Target]) -> None:
        known = [one for one in targets if bar_of(one) != self.bar or one.note_index % 2]
        if known or not targets:
            super().expect(known)


def session_of(folder: Path, bar: int | None, name: str = CLIMB) -> Path:
    """Play a shipped pattern three times and return its session."""
    source = Stumbling(GENERAL_MIDI, 3, EXACT_TRAITS)
    source.bar = bar
    job = Job(
        pattern=load_pattern(name),
        kit=GENERAL_MIDI,
        plan=SteadyPlan(80.0, 3, 1),
        source=source,
        click=SilentClick(),
        folder=folder,
        simulated=True,
    )
    Engine(job, lambda events: None).run()
    return next(folder.glob("*.jsonl"))


def test_the_worst_bar_loops_slower_with_its_lead_in_and_then_the_whole(tmp_path: Path) -> None:
    """Bar 2 went wrong at 80: bars 1 and 2 are looped at 68, and the whole comes at 80 again."""
    request = hard_spot(replay_file(session_of(tmp_path, 1)))
    assert list(request.bars) == [1]
    assert request.loop.pattern == f"{CLIMB} bars=1-2"
    assert request.loop.tempo == 80 * SLOWER
    assert (request.whole.pattern, request.whole.tempo) == (CLIMB, 80.0)
    assert len(load_pattern(request.loop.pattern).bars) == 2


def test_marked_bars_are_one_stretch_and_the_first_has_no_lead_in(tmp_path: Path) -> None:
    """From the first mark to the last, whatever went wrong elsewhere."""
    opened = replay_file(session_of(tmp_path, 1))
    request = hard_spot(opened, {2, 0})
    assert (request.first, request.last) == (0, 2)
    assert request.loop.pattern == f"{CLIMB} bars=1-3"
    assert hard_spot(opened, {3}).loop.pattern == f"{CLIMB} bars=3-4"


def test_the_result_is_of_the_spot_in_what_was_played_after(tmp_path: Path) -> None:
    """Played right it is better, played alike it is the same; without a session nothing is said."""
    request = hard_spot(replay_file(session_of(tmp_path / "before", 1)))
    right = spot_result(request, str(session_of(tmp_path / "right", None)))
    alike = spot_result(request, str(session_of(tmp_path / "alike", 1)))
    assert right is not None
    assert alike is not None
    assert (right[0], right[1].faults.value) == (BETTER, 0.0)
    assert (alike[0], alike[1]) == (SAME, request.before)
    assert spot_result(request, None) is None
    assert spot_result(request, str(tmp_path / "gone.jsonl")) is None


def test_a_pattern_that_has_changed_or_is_not_there_has_no_spot(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bars are counted in the pattern as it is now, so it has to have as many."""
    opened = replay_file(session_of(tmp_path, 1))
    other = load_pattern("climb-in-seven")
    monkeypatch.setattr("trainer.actions.hard_spot.load_pattern", lambda name: other)
    with pytest.raises(BadInput, match="the pattern has changed since"):
        hard_spot(opened)
