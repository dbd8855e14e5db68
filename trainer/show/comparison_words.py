"""Two sessions side by side in words, a row a number, and the findings of advice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.show.number_words import rounding_step
from trainer.show.reading_words import rounding_lines, weakness_words
from trainer.show.session_words import tempo_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.actions.advice import Advice
    from trainer.actions.comparison import Comparison
    from trainer.measure.comparison import NumberChange
    from trainer.measure.figure import Figure


def comparison_lines(found: Comparison) -> Iterator[str]:
    """Give what is compared, then a row a number."""
    yield found.summaries[0]["title"]
    for letter, name, summary in zip("AB", found.names, found.summaries, strict=True):
        tempo = tempo_words(summary["tempo_low"], summary["tempo_high"])
        yield f"{letter}: {name}, {tempo}, {summary['counts']['targets']} strokes"
    steps = [rounding_step(summary["resolution_ms"]) for summary in found.summaries]
    changes = found.changes
    yield ""
    width = max(len(one.name) for one in changes) if changes else 0
    yield f"{'':{width}}  {'A':>12}  {'B':>12}  more than chance"
    for one in changes:
        first, second = map(_number, (one.first, one.second), steps)
        yield f"{one.name:{width}}  {first:>12}  {second:>12}  {_verdict(one, max(steps))}"
    if not any(one.beyond_chance for one in changes):
        yield "Nothing changed by more than chance would."
    yield from rounding_lines(max(summary["resolution_ms"] or 0.0 for summary in found.summaries))


def _number(one: Figure, step: float) -> str:
    """Return a number, no finer than its session's stamps allow."""
    unit = f" {one.unit}" * bool(one.unit)
    return f"{_rounded(one.value, one.unit, step)}{unit}"


def _rounded(value: float | None, unit: str, step: float, sign: str = "") -> str:
    if unit.startswith("ms"):
        return f"{step * round((value or 0.0) / step) + 0.0:{sign}g}"
    return f"{value or 0.0:{sign}.1f}"


def _verdict(one: NumberChange, step: float) -> str:
    if not one.beyond_chance:
        return "no"
    word = {True: "better", False: "worse", None: "moved"}[one.better]
    change = one.change
    value, low, high = (
        _rounded(number, change.unit, step, "+")
        for number in (change.value, change.low, change.high)
    )
    if change.unit.startswith("ms") and not float(value):
        return f"{word}, by under {step:g}"
    return f"{word}, by {value} ({low} to {high})"


def advice_heading(one: Advice) -> Iterator[str]:
    """Say which session the advice is on, and why not on the newest."""
    yield f"{one.session.pattern.title}, {one.session.header.started:%Y-%m-%d %H:%M}."
    newest = one.passed_over
    if newest:
        why = "has too few strokes" if newest.finished else "is still running, or was cut off"
        yield f"The last one, {newest.title}, {newest.started:%Y-%m-%d %H:%M}, {why}."


def finding_lines(one: Advice) -> Iterator[str]:
    """Give a line a finding, or why there is none."""
    if one.summary["advice"] is None:
        yield "Too few strokes landed to propose anything: play two minutes or more."
    elif not one.findings:
        yield "Nothing is weak: no move, hand, foot or change costs more than chance."
    for place, finding in enumerate(one.findings, 1):
        yield f"{place}. {weakness_words(finding)}: {'; '.join(finding['evidence'])}."
