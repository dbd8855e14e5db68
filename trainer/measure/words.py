"""A reading in words: the lines a drummer reads, what matters first.

Works on the summary as it is saved (`Reading.to_dict`), so that old sessions read like new ones.
Times are rounded to what the machine they were taken on can be trusted with, at best to 1 ms.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.measure.terms import limb_words, value_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

Summary = dict[str, Any]
"""A reading as plain values, or a part of it."""

STEPS_MS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def lines(summary: Summary, *, full: bool = False) -> list[str]:
    """Return the reading in lines of plain text; `full` adds every group."""
    step = fine(summary.get("resolution_ms"))
    told = [*_counts(summary["counts"]), *_offsets(summary["offset"], step)]
    if full:
        told += _groups(summary["offset"], step)
    return told


def fine(resolution_ms: float | None) -> float:
    """Return the step, in ms, that times are rounded to for a resolution (None: not known)."""
    wanted = resolution_ms or 0.0
    return next((step for step in STEPS_MS if step >= wanted), STEPS_MS[-1])


def length(value_ms: float, step: float = 1.0) -> str:
    """Return an amount of time, "11 ms", or "under 2 ms" where the step swallows it."""
    rounded = step * round(abs(value_ms) / step)
    return f"{rounded:g} ms" if rounded else f"under {step:g} ms"


def lateness(value_ms: float, step: float = 1.0) -> str:
    """Return an offset with its sign in words: "4 ms early", "12 ms late", "on time"."""
    if not round(abs(value_ms) / step):
        return "on time"
    return f"{length(value_ms, step)} {'early' if value_ms < 0 else 'late'}"


def _counts(counts: Summary) -> Iterator[str]:
    if not counts["targets"]:
        yield "Nothing was asked for, so there is nothing to say."
        return
    parts = [f"{counts['targets']} strokes: {counts['played']} played"]
    parts += [
        f"{counts[key]} {words}"
        for key, words in (("missed", "missed"), ("wrong_pad", "on a wrong pad"))
        if counts[key]
    ]
    others = [
        f"{counts[key]} {words}"
        for key, words in (
            ("extra", "stray"),
            ("rim", "rim"),
            ("double", "double trigger"),
            ("crosstalk", "crosstalk"),
        )
        if counts[key]
    ]
    yield ", ".join(parts) + (f". Besides: {', '.join(others)}." if others else ".")


def _offsets(offset: Summary, step: float) -> Iterator[str]:
    mean, spread = offset["mean"]["value"], offset["spread"]["value"]
    if mean is None:
        yield "Too few strokes landed to say anything about time."
        return
    tail = "" if spread is None else f", spread {length(spread, step)}"
    yield f"Time: {lateness(mean, step)} on average{tail}."
    limbs = list(_centres(offset["by_limb"], limb_words, step))
    if len(limbs) > 1:
        yield "By limb: " + "; ".join(limbs) + "."


def _groups(offset: Summary, step: float) -> Iterator[str]:
    for key, title, words in (
        ("by_voice", "By voice", str),
        ("by_value", "By note value", value_words),
        ("by_bar", "By bar", lambda bar: f"bar {int(bar) + 1}"),
        ("by_step", "By place in the bar", lambda step: f"{step} quarters in"),
    ):
        groups = list(_centres(offset[key], words, step))
        if groups:
            yield f"{title}: {'; '.join(groups)}."


def _centres(
    table: Mapping[str, Summary], words: Callable[[str], str], step: float
) -> Iterator[str]:
    for name, centre in table.items():
        mean, spread = centre["mean"]["value"], centre["spread"]["value"]
        if mean is not None:
            tail = "" if spread is None else f" (spread {length(spread, step)})"
            yield f"{words(name)} {lateness(mean, step)}{tail}"
