"""Named foot ostinatos against the grids of the trade.

Samba and bossa nova: a percussion textbook's page on samba and Tom Tom Magazine (2011); the
tumbao's rhythm: Wikipedia, "Tumbao". Songo, baiao, half-time and who plays what: common practice,
no source. Claves: from memory.
"""

from __future__ import annotations

import pytest

from trainer.pattern import library

GRIDS = [
    ("feet-samba", "1/4", "x..xx..x", "..x...x."),
    ("feet-bossa", "1/2", "x..xx..x", "..x...x."),
    ("feet-tumbao", "1/2", "...x..x.", "..x...x."),
    ("feet-tresillo", "1/2", "x..x..x.", "..x...x."),
    ("feet-songo", "1/4", "......x.....x...", "x...x...x...x..."),
    ("feet-baiao", "1/4", "x..x..x.", "..x...x."),
    ("feet-half-time", "1/2", "x.......", "x.x.x.x."),
    ("feet-quarters", "1/2", "x.x.x.x.", "..x...x."),
    ("feet-offbeats", "1/2", "x.x.x.x.", ".x.x.x.x"),
    ("feet-son-clave-3-2", "1/2", "", "x..x..x...x.x..."),
    ("feet-son-clave-2-3", "1/2", "", "..x.x...x..x..x."),
    ("feet-rumba-clave-3-2", "1/2", "", "x..x...x..x.x..."),
]


@pytest.mark.parametrize(("name", "step", "kick", "pedal"), GRIDS)
def test_grid(name: str, step: str, kick: str, pedal: str) -> None:
    """The strokes of each foot stand on the steps of the grid, round after round."""
    made = library.load_pattern(name)
    for voice, grid in (("kick", kick), ("pedal", pedal)):
        beats = {note.beat for note in made.notes if note.voice == voice}
        steps = int(made.length / _length(step))

        assert beats == {
            at * _length(step) for at in range(steps) if grid and grid[at % len(grid)] == "x"
        }


def _length(step: str) -> float:
    one, two = step.split("/")
    return int(one) / int(two)


def test_common_practice_is_marked() -> None:
    """What rests on habit alone says so in its tags."""
    entries = {entry.name: entry for entry in library.catalogue()}

    assert all("common practice" in entries[name].tags for name, *_ in GRIDS)
