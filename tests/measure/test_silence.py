"""Silent bars: how far off the player came back is found, bar by bar, whatever the latency."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from handmade import course, judged, walk
from sessions import pattern

from trainer.archive.session_file import open_session
from trainer.engine.job import Engine, Job
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.silence import silence
from trainer.measure.take_arrays import take_arrays
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import EXACT_TRAITS, SimulatedPlayer
from trainer.practice.click_figure import read_figure
from trainer.practice.plan import SessionOptions, SteadyPlan
from trainer.show.reading_words import reading_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from trainer.practice.course import Target

LATENCY_MS = 12.0
PASS_S = 2.4


def silent_take(ahead_ms: Callable[[Target], float | None], passes: int = 32):
    """Bars at 100 BPM, the last of every four silent; all strokes late by the latency."""

    def offset(target: Target) -> float | None:
        ahead = ahead_ms(target)
        return None if ahead is None else LATENCY_MS - ahead

    take = judged(course(walk(), passes), offset_ms=offset)
    stretches = [
        (2.0 + PASS_S * row, 2.0 + PASS_S * (row + 1)) for row in range(passes) if row % 4 == 3
    ]
    return silence(take_arrays(take), stretches)


def rushed(target: Target) -> float:
    """30 ms ahead in silent bars and on the click that ends them; on the usual place elsewhere."""
    back = target.note.beat == 0 and target.pass_index and target.pass_index % 4 == 0
    return 30.0 if target.pass_index % 4 == 3 or back else 0.0


def test_a_player_who_comes_back_ahead_is_ahead_in_every_figure() -> None:
    """Latency is not ahead or behind: only what changed in the silence counts."""
    found = silent_take(rushed)
    assert found.back.value == pytest.approx(-30.0)
    assert found.size.value == pytest.approx(30.0)
    assert found.back.count == 8
    places = [(one.row, one.bar, one.last) for one in found.bars]
    assert places == [(row, 0, True) for row in range(3, 32, 4)]
    assert [one.ms for one in found.bars] == pytest.approx([-30.0] * 8)


def test_who_comes_back_on_either_side_is_off_by_the_size() -> None:
    """Ahead once and behind once is nothing on average, and the size says so all the same."""
    found = silent_take(lambda target: rushed(target) * (1 if target.pass_index < 17 else -1))
    assert found.back.value == pytest.approx(0.0, abs=1e-9)
    assert found.size.value == pytest.approx(30.0)
    assert [one.ms for one in found.bars] == pytest.approx([-30.0] * 4 + [30.0] * 4)


def test_a_player_who_stops_in_a_silence_is_nowhere() -> None:
    """A silent bar without a stroke has no figure, and an empty take has none at all."""
    found = silent_take(lambda target: None if target.pass_index == 3 else rushed(target))
    assert [one.ms for one in found.bars] == [None, *[pytest.approx(-30.0)] * 7]
    nothing = silent_take(lambda target: None)
    assert nothing.back.value is None
    assert [one.ms for one in nothing.bars] == [None] * 8
    assert silence(take_arrays(judged(course(walk(), 2))), []).bars == ()


class Rushing(SimulatedPlayer):
    """Plays exactly, but 30 ms ahead in every fourth bar and on the click that ends it."""

    def expect(self, targets: Sequence[Target]) -> None:
        super().expect([replace(one, time_s=one.time_s - rushed(one) / 1000) for one in targets])


def test_a_session_says_how_far_ahead_the_player_came_back(tmp_path: Path) -> None:
    """The whole way: the engine's silent bars, the file, its summary and its lines."""
    job = Job(
        pattern=pattern(),
        kit=GENERAL_MIDI,
        plan=SteadyPlan(120.0, 33, 1),
        source=Rushing(GENERAL_MIDI, 3, EXACT_TRAITS),
        click=SilentClick(),
        folder=tmp_path,
        options=SessionOptions(click=read_figure({"silent_bars": "1/4"})),
        simulated=True,
    )
    Engine(job, lambda events: None).run()
    session = open_session(next(tmp_path.glob("*.jsonl")))
    found = session.summary["silence"]
    assert found["back"]["value"] == pytest.approx(-30.0, abs=0.01)
    assert [(one["row"], one["bar"]) for one in found["bars"]] == [
        (row, 0) for row in range(3, 32, 4)
    ]
    lines = reading_lines(session.summary)
    at = next(k for k, one in enumerate(lines) if one.startswith("Silent bars"))
    assert (
        lines[at] == "Silent bars: came back 30 ms ahead on average, 30 ms off either way, n = 8."
    )
    each = " ".join(" ".join(lines[at + 1 : at + 3]).split())
    assert each.startswith("Bar by bar: " + ", ".join(["30 ms ahead"] * 8) + ".")
