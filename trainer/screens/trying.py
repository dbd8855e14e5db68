"""What a try of the simulated player says of a pattern, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


def tried(pattern: Pattern) -> list[str]:
    """Return the words on half a minute of the simulated player; takes a moment."""
    from trainer.measure import reading, words
    from trainer.measure.clean import DEFAULT, verdict
    from trainer.midi.trial import trial

    judged = trial(pattern)
    found = verdict(judged)
    return [
        f"Clean by the level {DEFAULT.level}."
        if found.clean
        else f"Not clean by the level {DEFAULT.level}: {'; '.join(found.reasons())}.",
        *words.lines(reading.read(judged).to_dict()),
        "The player is simulated, with faults of its own that stand for nobody.",
    ]
