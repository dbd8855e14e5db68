"""What one cell of the hit map says in words with numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.screens.words import offset

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Sequence

    from trainer.measure.hit_map import CellFigures
    from trainer.pattern.model import Note, Pattern
    from trainer.screens.grid import Cell, PatternGrid


def place(pattern: Pattern, grid: PatternGrid, cell: Cell) -> str:
    """Return where a cell stands, for instance `snare, bar 1, beat 2 + 1/4`."""
    bar = pattern.bars[cell.bar]
    inside = (grid.bars[cell.bar].beats[cell.column] - bar.start) / bar.meter.beat
    beat, rest = divmod(inside, 1)
    return f"{grid.label(cell.row, 30)}, bar {cell.bar + 1}, beat {beat + 1}" + (
        f" + {rest}" if rest else ""
    )


def written(notes: Sequence[Note]) -> str:
    """Return the strokes written in a cell: who plays what, how loud."""
    told = [
        " ".join(
            part
            for part in (
                VOICES[note.voice].title,
                str(note.limb or ""),
                note.level.value if note.level.value != "normal" else "",
            )
            if part
        )
        for note in notes
    ]
    return " and ".join(told)


def counted(figures: CellFigures, strays: Counter[str]) -> str:
    """Return how often strokes were due and what became of them."""
    parts = [f"{figures.due} due", f"{figures.played} played"]
    if figures.missed:
        parts.append(f"{figures.missed} missed")
    if figures.wrong_pad:
        parts.append(f"{figures.wrong_pad} on a wrong pad")
    return ", ".join(parts + strayed(strays))


def strayed(strays: Counter[str]) -> list[str]:
    """Return what landed there besides, kind by kind."""
    return [
        f"{count} {'meant for another pad' if kind == 'wrong pad' else kind}"
        for kind, count in strays.most_common()
    ]


def timed(figures: CellFigures) -> str:
    """Return how early or late the strokes were."""
    told = on_average(figures)
    if figures.offset_spread_ms is None:
        return told
    ends = [offset(ms / 1000) for ms in (figures.earliest_ms, figures.latest_ms) if ms is not None]
    return f"{told}, from {ends[0]} to {ends[1]}"


def sides(early: int, on_time: int, late: int) -> str:
    """Return how strokes fell to either side: those within 10 ms are on time."""
    told = ((early, "early"), (on_time, "on time"), (late, "late"))
    return ", ".join(f"{count} {word}" for count, word in told) if early + on_time + late else ""


def on_average(figures: CellFigures) -> str:
    """Return how early or late the strokes were on average, and their spread."""
    if figures.offset_mean_ms is None:
        return "no stroke to time"
    told = f"{offset(figures.offset_mean_ms / 1000)} on average"
    spread = figures.offset_spread_ms
    return told if spread is None else f"{told}, spread {spread:.0f} ms"


def hit_hard(figures: CellFigures) -> str:
    """Return how hard the strokes were, in MIDI velocity."""
    spread = "" if figures.power_spread is None else f", spread {figures.power_spread:.0f}"
    return power(figures) + spread


def power(figures: CellFigures) -> str:
    """Return the mean power, nothing where no stroke was played."""
    return "" if figures.power_mean is None else f"power {figures.power_mean:.0f}"
