"""The full text of a reading: every group in a line, with count and 95 % interval.

Minus is early; for unisons it means that the first one named lands first. Withheld figures say why.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.measure.phrases import Summary, figure_text, place
from trainer.measure.terms import limb_words, value_words, voice_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping


def tables(summary: Summary, step: float) -> list[str]:
    """Return a line for each group of each measure, a blank line before each table."""
    told: list[str] = []
    for title, rows, words in _tables(summary):
        if rows:
            told += ["", title]
            told += [f"  {words(name)}: {_row(row, step)}" for name, row in rows.items()]
    return told


def _tables(
    summary: Summary,
) -> Iterator[tuple[str, Mapping[str, Summary], Callable[[str], str]]]:
    offset, even, power = summary["offset"], summary["evenness"], summary["power"]
    yield "Offset by voice (minus is early)", offset["by_voice"], voice_words
    yield "Offset by limb", offset["by_limb"], limb_words
    yield "Offset by note value", offset["by_value"], value_words
    yield "Offset by bar", offset["by_bar"], lambda bar: f"bar {int(bar) + 1}"
    yield "Offset by place in the bar", offset["by_step"], place
    yield "Drift inside a pass", {"drift": {"slope": offset["drift"]}}, str
    yield "Unisons (minus: the first one named lands first)", summary["unisons"]["by_limbs"], str
    yield "Strokes that stay on a drum", summary["moves"]["staying"], limb_words
    yield "Moves", summary["moves"]["by_move"], str
    yield "Intervals of the hands by note value", even["by_value"], value_words
    yield "Long-short of alternate strokes", {"lope": {"size": even["lope"]}}, str
    yield "At a change of note value", _single(even["changes"], "jump"), _change
    yield "Velocity by limb", power["by_limb"], limb_words
    yield "Velocity by voice", power["by_voice"], voice_words
    yield "Velocity by level", power["by_level"], str
    yield "Rims by voice", _single(summary["touch"]["rims_by_voice"], "share"), voice_words
    yield "Place on the pad (0 middle, 1 edge)", summary["touch"]["position"], voice_words
    yield "As a rung goes on", {"trend": summary["staying"]["rung"]}, str
    yield "Over the session", {"trend": summary["staying"]["session"]}, str
    yield "Where spread comes from, click silent", summary["sources"]["silent"], limb_words
    yield "Where spread comes from, click on", summary["sources"]["click"], limb_words


def _single(rows: Mapping[str, Summary], name: str) -> dict[str, Summary]:
    return {key: {name: figure} for key, figure in rows.items()}


def _change(name: str) -> str:
    return " to ".join(map(value_words, name.split(" to ")))


def _row(row: Summary, step: float) -> str:
    """One group: its figures and from how many strokes, or the one reason why there are none."""
    figures = {name: one for name, one in row.items() if isinstance(one, dict)}
    reasons = {figure.get("why", "") for figure in figures.values()}
    if len(reasons) == 1 and reasons != {""}:
        return f"unknown: {reasons.pop()}"
    told = [
        f"{name.replace('_', ' ')} {figure_text(figure, step)}" for name, figure in figures.items()
    ]
    count = next((figure["count"] for figure in figures.values()), 0)
    return f"{', '.join(told)}; n = {count}"
