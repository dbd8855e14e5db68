"""A short run of a pattern by the simulated player, in simulated time, judged like any other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.kit.note_map import GENERAL_MIDI
from trainer.midi.simulated import WORKING, SimulatedPlayer
from trainer.practice.course import Course, Pass, seconds_per_quarter
from trainer.practice.take import judge

if TYPE_CHECKING:
    from trainer.midi.simulated import Traits
    from trainer.pattern.model import Pattern
    from trainer.practice.outcomes import Judged

SECONDS = 30.0
MOST_PASSES = 64
COUNT_IN_S = 1.0


def trial(pattern: Pattern, seed: int = 1, traits: Traits = WORKING) -> Judged:
    """Return what became of some half a minute at the pattern's own tempo.

    Whole passes as many as fill it best; a pattern longer than that is cut off there.
    """
    length_s = float(pattern.length) * seconds_per_quarter(pattern, pattern.tempo)
    count = max(1, min(MOST_PASSES, round(SECONDS / length_s)))
    end_s = COUNT_IN_S + SECONDS if length_s > SECONDS else None
    passes = tuple(
        Pass(index, pattern.tempo, COUNT_IN_S + index * length_s, end_s=end_s)
        for index in range(count)
    )
    course = Course(pattern, passes)
    player = SimulatedPlayer(GENERAL_MIDI, seed, traits)
    player.expect(course.targets())
    made = player.poll(float("inf"))
    return judge(course, [one for one in made if isinstance(one, Strike)], GENERAL_MIDI)
