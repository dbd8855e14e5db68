"""The hit map in words and as plain values: what is counted, and what each cell holds.

The screen says this of the cell under the cursor; as text and as JSON all cells are told.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from trainer.measure.figure import plain
from trainer.screens import cell_words, change_words
from trainer.screens.review import PASS, RUNG, SESSION

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.measure.hit_map import CellFigures
    from trainer.screens.grid import Cell
    from trainer.screens.review import Review


def part(review: Review) -> str:
    """Return which part is counted, for instance `rung 3 of 6 alone`."""
    end = "" if review.complete else ", up to here"
    if review.part == SESSION:
        return f"whole session{end}"
    firsts = review.firsts(review.part)
    number = sum(row <= review.row for row in firsts)
    return f"{review.part} {number} of {len(firsts)} alone{end}"


def standing(review: Review) -> str:
    """Return where the moment stands beside the part: pass, bar, tempo, how the rung ended."""
    one = review.passes[review.row]
    told = [] if review.part == PASS else [f"pass {review.row + 1} of {len(review.passes)}"]
    told += [
        f"bar {review.bar + 1} of {len(review.pattern.bars)}",
        f"{one.tempo:g} BPM",
    ]
    rung = review.rungs.get(one.rung)
    if RUNG in review.parts:
        number = sum(row <= review.row for row in review.firsts(RUNG))
        end = "" if rung is None else ": clean" if rung.clean else ": not clean"
        told.append(f"rung {number}{end}")
    return "   ".join(told)


def other(review: Review) -> str:
    """Return what lies under this session, empty where nothing does."""
    if review.there is None:
        return ""
    rows, tempo = review.other_rows(), review.passes[review.row].tempo
    if rows is None:
        return f"over {review.other_name} (all of it)"
    passes = "pass" if len(rows) == 1 else f"{len(rows) or 'no'} passes"
    return f"over {review.other_name} (its {passes} at {tempo:g} BPM)"


def counted(review: Review) -> str:
    """Return what is counted, here and in the session below, in one line."""
    what = part(review)
    if review.part == SESSION:
        tempos = [one.tempo for one in review.passes]
        low, high = min(tempos), max(tempos)
        what += f", {low:g} BPM" if low == high else f", {low:g} to {high:g} BPM"
    else:
        what += f", {review.passes[review.row].tempo:g} BPM"
    return ", ".join(filter(None, (what, other(review))))


def cell_lines(review: Review, cell: Cell) -> list[str]:
    """Return what a cell holds: its place, counts and power, time; then the other and what differs.

    Three lines, five over another session.
    """
    notes = review.main_notes(cell)
    strays = review.strays(cell)
    place = cell_words.place(review.pattern, review.board.grid, cell)
    if not notes:
        told = ", ".join(cell_words.strayed(strays)) or "nothing is written here"
        return [place, told, "", *_other_strays(review, cell)]
    figures = review.figures(cell)
    written = cell_words.written([review.pattern.notes[index] for index in notes])
    counts = cell_words.counted(figures, strays)
    lines = [
        f"{place}  {written}   {cell_words.sides(*review.here.sides(notes))}".rstrip(),
        "; ".join(filter(None, (counts, cell_words.hit_hard(figures)))),
        cell_words.timed(figures),
    ]
    change = review.change(cell)
    if review.there is None or change is None:
        return lines
    below = review.there.figures(notes)
    counts = cell_words.counted(below, review.strays_below(cell))
    parts = filter(None, (counts, cell_words.power(below), cell_words.on_average(below)))
    return [*lines, f"other: {'; '.join(parts)}", f"here {change_words.sentence(change)}"]


def _other_strays(review: Review, cell: Cell) -> list[str]:
    if review.there is None:
        return []
    told = ", ".join(cell_words.strayed(review.strays_below(cell)))
    return [f"other: {told or 'nothing'}", ""]


def lines(review: Review) -> Iterator[str]:
    """Give every cell that holds something, in the order of the bars."""
    yield review.pattern.title or review.pattern.name
    yield f"Counted: {counted(review)}."
    for cell in cells(review):
        first, *rest = cell_lines(review, cell)
        yield ""
        yield first
        yield from (f"  {line}" for line in rest if line)


def cells(review: Review) -> list[Cell]:
    """Return the cells in which something is written or landed."""
    found = {cell for cell in review.board.grid.notes if review.main_notes(cell)}
    found |= review.here.strays.keys()
    found |= review.there.strays.keys() if review.there else set()
    return sorted(found)


def values(review: Review) -> dict[str, Any]:
    """Return the map as plain values: what is counted, and a row for each cell."""
    return {
        "counted": counted(review),
        "over": review.other_name or None,
        "cells": [_cell(review, cell) for cell in cells(review)],
    }


def _cell(review: Review, cell: Cell) -> dict[str, Any]:
    """Return one cell as plain values; times in ms, minus is early, beats in quarter notes."""
    grid, notes = review.board.grid, review.main_notes(cell)
    row = grid.rows[cell.row] if cell.row < grid.other_row else None
    told: dict[str, Any] = {
        "bar": cell.bar,
        "beat": str(grid.bars[cell.bar].beats[cell.column]),
        "limb" if grid.by_limb else "voice": row,
        **_figures(review.figures(cell)),
        "sides": list(review.here.sides(notes)),
        "strays": dict(review.strays(cell)),
    }
    change = review.change(cell)
    if review.there is not None and change is not None:
        told["other"] = {
            **_figures(review.there.figures(notes)),
            "strays": dict(review.strays_below(cell)),
        }
        told["change"] = plain(change)
    return told


def _figures(figures: CellFigures) -> dict[str, Any]:
    told = asdict(figures)
    told["histogram"] = list(told["histogram"])
    return told
