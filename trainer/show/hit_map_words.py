"""The hit map in words and as plain values: what is counted, and what each cell holds.

The screen says this of the cell under the cursor; text and JSON have it of all cells. In JSON times
are in ms (minus is early), beats in quarter notes from the pattern's start, power is MIDI velocity.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from trainer.kit.voices import VOICES
from trainer.measure.figure import plain_values
from trainer.pattern.as_played import beat_length
from trainer.show import comparison_words
from trainer.show.live_words import early_or_late
from trainer.show.review import ONE_PASS, ONE_RUNG, WHOLE_SESSION

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Iterator, Sequence

    from trainer.measure.hit_map import CellFigures
    from trainer.pattern.model import Note, Pattern
    from trainer.show.grid import Cell, PatternGrid
    from trainer.show.review import Review


def cell_place(pattern: Pattern, grid: PatternGrid, cell: Cell) -> str:
    """Return where a cell is, for instance `snare, bar 1, beat 2 + 1/4`."""
    bar = pattern.bars[cell.bar]
    inside = grid.bars[cell.bar].beats[cell.column] - bar.start
    inside /= beat_length(pattern, bar.meter)
    beat, rest = divmod(inside, 1)
    return f"{grid.label(cell.row, 30)}, bar {cell.bar + 1}, beat {beat + 1}" + (
        f" + {rest}" if rest else ""
    )


def written_strokes(notes: Sequence[Note]) -> str:
    """Return the strokes written in a cell: what, by which limb, how loud."""
    words = [
        " ".join(
            part
            for part in (
                VOICES[note.voice].title,
                str(note.written_limb or ""),
                note.level.value if note.level.value != "normal" else "",
            )
            if part
        )
        for note in notes
    ]
    return " and ".join(words)


def count_words(figures: CellFigures, strays: Counter[str]) -> str:
    """Return how often strokes were due and what became of them."""
    parts = [f"{figures.due} due", f"{figures.played} played"]
    if figures.missed:
        parts.append(f"{figures.missed} missed")
    if figures.wrong_pad:
        parts.append(f"{figures.wrong_pad} on a wrong pad")
    return ", ".join(parts + stray_words(strays))


def stray_words(strays: Counter[str]) -> list[str]:
    """Return what else landed there, kind by kind."""
    return [
        f"{count} {'meant for another pad' if kind == 'wrong pad' else kind}"
        for kind, count in strays.most_common()
    ]


def time_words(figures: CellFigures) -> str:
    """Return how early or late the strokes were."""
    words = average_words(figures)
    if figures.offset_spread_ms is None:
        return words
    ends = [
        early_or_late(ms / 1000)
        for ms in (figures.earliest_ms, figures.latest_ms)
        if ms is not None
    ]
    return f"{words}, from {ends[0]} to {ends[1]}"


def side_words(early: int, on_time: int, late: int) -> str:
    """Return how strokes fell to either side: those within 10 ms are on time."""
    words = ((early, "early"), (on_time, "on time"), (late, "late"))
    return ", ".join(f"{count} {word}" for count, word in words) if early + on_time + late else ""


def average_words(figures: CellFigures) -> str:
    """Return how early or late the strokes were on average, and their spread."""
    if figures.offset_mean_ms is None:
        return "no stroke to measure"
    words = f"{early_or_late(figures.offset_mean_ms / 1000)} on average"
    spread = figures.offset_spread_ms
    return words if spread is None else f"{words}, spread {spread:.0f} ms"


def power_words(figures: CellFigures) -> str:
    """Return how hard the strokes were, in MIDI velocity."""
    spread = "" if figures.power_spread is None else f", spread {figures.power_spread:.0f}"
    return mean_power_words(figures) + spread


def mean_power_words(figures: CellFigures) -> str:
    """Return the mean power, nothing where no stroke was played."""
    return "" if figures.power_mean is None else f"power {figures.power_mean:.0f}"


def part_words(review: Review) -> str:
    """Return which part is counted, for instance `rung 3 of 6 alone`."""
    end = "" if review.complete else ", up to here"
    if review.part == WHOLE_SESSION:
        return f"whole session{end}"
    firsts = review.firsts(review.part)
    number = sum(row <= review.row for row in firsts)
    return f"{review.part} {number} of {len(firsts)} alone{end}"


def moment_words(review: Review) -> str:
    """Return the pass, bar and tempo of the moment, and how its rung ended."""
    one = review.passes[review.row]
    parts = [] if review.part == ONE_PASS else [f"pass {review.row + 1} of {len(review.passes)}"]
    parts += [
        f"bar {review.bar + 1} of {len(review.pattern.bars)}",
        f"{one.tempo:g} BPM",
    ]
    rung = review.rungs.get(one.rung)
    ends = [] if rung is None else ["clean" if rung.clean else "not clean"]
    if ONE_RUNG in review.parts:
        number = sum(row <= review.row for row in review.firsts(ONE_RUNG))
        named = [f"rung {number}"] * (review.part != ONE_RUNG)
        parts.append(": ".join([*named, *ends]))
    return "   ".join(parts)


def other_words(review: Review) -> str:
    """Return which session is below this one, empty where none is."""
    if review.there is None:
        return ""
    rows, tempo = review.other_rows(), review.passes[review.row].tempo
    if rows is None:
        return f"over {review.other_name} (all of it)"
    passes = "pass" if len(rows) == 1 else f"{len(rows) or 'no'} passes"
    return f"over {review.other_name} (its {passes} at {tempo:g} BPM)"


def counted_words(review: Review) -> str:
    """Return what is counted, here and in the session below, in one line."""
    what = part_words(review)
    if review.part == WHOLE_SESSION:
        tempos = [one.tempo for one in review.passes]
        low, high = min(tempos), max(tempos)
        what += f", {low:g} BPM" if low == high else f", {low:g} to {high:g} BPM"
    else:
        what += f", {review.passes[review.row].tempo:g} BPM"
    return ", ".join(filter(None, (what, other_words(review))))


def cell_lines(review: Review, cell: Cell) -> list[str]:
    """Return what a cell holds: its place, counts and power, time; then the other and what differs.

    Three lines, five over another session.
    """
    notes = review.main_notes(cell)
    strays = review.strays(cell)
    place = cell_place(review.pattern, review.board.grid, cell)
    if not notes:
        words = ", ".join(stray_words(strays)) or "nothing written here"
        return [place, words, "", *_other_stray_lines(review, cell)]
    figures = review.figures(cell)
    written = written_strokes([review.pattern.notes[index] for index in notes])
    counts = count_words(figures, strays)
    lines = [
        f"{place}  {written}   {side_words(*review.here.sides(notes))}".rstrip(),
        "; ".join(filter(None, (counts, power_words(figures)))),
        time_words(figures),
    ]
    change = review.change(cell)
    if review.there is None or change is None:
        return lines
    below = review.there.figures(notes)
    counts = count_words(below, review.strays_below(cell))
    parts = filter(None, (counts, mean_power_words(below), average_words(below)))
    return [
        *lines,
        f"other: {'; '.join(parts)}",
        f"here {comparison_words.change_sentence(change)}",
    ]


def _other_stray_lines(review: Review, cell: Cell) -> list[str]:
    if review.there is None:
        return []
    words = ", ".join(stray_words(review.strays_below(cell)))
    return [f"other: {words or 'nothing'}", ""]


def hit_map_lines(review: Review) -> Iterator[str]:
    """Yield every cell that holds something, in the order of the bars."""
    yield review.pattern.title or review.pattern.name
    yield f"Counted: {counted_words(review)}."
    for cell in filled_cells(review):
        first, *rest = cell_lines(review, cell)
        yield ""
        yield first
        yield from (f"  {line}" for line in rest if line)


def filled_cells(review: Review) -> list[Cell]:
    """Return the cells in which something is written or landed."""
    found = {cell for cell in review.board.grid.notes if review.main_notes(cell)}
    found |= review.here.strays.keys()
    found |= review.there.strays.keys() if review.there else set()
    return sorted(found)


def hit_map_values(review: Review) -> dict[str, Any]:
    """Return the map as plain values: what is counted, and a row for each cell."""
    return {
        "counted": counted_words(review),
        "over": review.other_name or None,
        "cells": [_cell_values(review, cell) for cell in filled_cells(review)],
    }


def _cell_values(review: Review, cell: Cell) -> dict[str, Any]:
    """Return one cell as plain values; times in ms, minus is early, beats in quarter notes."""
    grid, notes = review.board.grid, review.main_notes(cell)
    row = grid.rows[cell.row] if cell.row < grid.other_row else None
    words: dict[str, Any] = {
        "bar": cell.bar,
        "beat": str(grid.bars[cell.bar].beats[cell.column]),
        "limb" if grid.by_limb else "voice": row,
        **_figure_values(review.figures(cell)),
        "sides": list(review.here.sides(notes)),
        "strays": dict(review.strays(cell)),
    }
    change = review.change(cell)
    if review.there is not None and change is not None:
        words["other"] = {
            **_figure_values(review.there.figures(notes)),
            "strays": dict(review.strays_below(cell)),
        }
        words["change"] = plain_values(change)
    return words


def _figure_values(figures: CellFigures) -> dict[str, Any]:
    words = asdict(figures)
    words["histogram"] = list(words["histogram"])
    return words
