"""What a session holds in memory does not grow with what was played."""

from __future__ import annotations

import gc
import tracemalloc
from typing import TYPE_CHECKING

from trainer.engine.job import Engine
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.simulated_player import WORKING_TRAITS, SimulatedPlayer
from trainer.practice.plan import SteadyPlan

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.engine.job import Job

PASSES, ROUNDS = 40, 8

A_STROKE, A_PASS = 6.0, 200.0
"""Bytes that may stay: of a stroke what was shown of it, of a pass when it began and its tempo."""


class Forgetful:
    """Takes the simulated player's truth and keeps none, so that only the program is measured."""

    def append(self, one: object) -> None:
        """Forget it."""


class Unwritten:
    """A record that keeps nothing: the real one keeps the file's own text on purpose."""

    def __getattr__(self, name: str) -> Callable[..., list[str]]:
        return lambda *_: []


def test_a_session_stays_small(make_job: Callable[..., Job]) -> None:
    """Hundreds of passes on, the loop, the session and the matcher hold what they held early on."""
    player = SimulatedPlayer(GENERAL_MIDI, 1, WORKING_TRAITS)
    player.truth = Forgetful()  # type: ignore[assignment]
    job = make_job(plan=SteadyPlan(150.0), source=player, simulated=True)
    engine = Engine(job, lambda _: None)
    loop = engine.loop
    loop.record = Unwritten()
    tracemalloc.start()
    loop.start()
    held, strokes = [], []
    for count in range(1, ROUNDS + 1):
        while len(loop.session.passes) < PASSES * count:
            loop.turn()
        gc.collect()
        held.append(tracemalloc.get_traced_memory()[0])
        strokes.append(loop.session.tally().played)
    tracemalloc.stop()
    loop.session.quit(loop.clock.now())
    engine.finish()
    half = ROUNDS // 2
    more = strokes[-1] - strokes[half - 1]

    assert more > 1_000
    assert max(held[half:]) - max(held[1:half]) < A_STROKE * more + A_PASS * PASSES * half
