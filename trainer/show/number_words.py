"""How single numbers of a reading are written: lengths of time, early and late, shares, intervals.

Everything is rounded to a step, so that no number looks finer than it was measured.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

Summary = dict[str, Any]
"""A reading as plain values (`Reading.to_dict`), or a part of it; a figure is such a part."""

ROUNDING_STEPS_MS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)

_BEAT_SUBDIVISIONS = {
    Fraction(0): "",
    Fraction(1, 4): "e",
    Fraction(1, 2): "&",
    Fraction(3, 4): "a",
}


def rounding_step(resolution_ms: float | None) -> float:
    """Return the step, in ms, that times are rounded to for a resolution (None: not known)."""
    wanted = resolution_ms or 0.0
    return next((step for step in ROUNDING_STEPS_MS if step >= wanted), ROUNDING_STEPS_MS[-1])


def duration_text(value_ms: float, step: float = 1.0) -> str:
    """Return an amount of time, "11 ms", or "under 2 ms" where the step swallows it."""
    rounded = step * round(abs(value_ms) / step)
    return f"{rounded:g} ms" if rounded else f"under {step:g} ms"


def offset_text(value_ms: float, step: float = 1.0) -> str:
    """Return an offset with its sign in words: "4 ms early", "12 ms late", "on time"."""
    if not round(abs(value_ms) / step):
        return "on time"
    return f"{duration_text(value_ms, step)} {'early' if value_ms < 0 else 'late'}"


def percent_text(value: float) -> str:
    """Return a share: whole percent, but never none for some or all for nearly all."""
    if 0 < value < 1:
        return "under 1%"
    if 99 < value < 100:
        return "over 99%"
    return f"{value + 0.0:.0f}%"


def ahead_text(value_ms: float, step: float = 1.0) -> str:
    """Return a place against the click: "4 ms ahead", "12 ms behind", "on the click"."""
    if not round(abs(value_ms) / step):
        return "on the click"
    return f"{duration_text(value_ms, step)} {'ahead' if value_ms < 0 else 'behind'}"


def count_text(count: int, one: str, many: str = "") -> str:
    """Return a number with its noun: "1 pass", "3 passes"."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def beat_text(step: str) -> str:
    """Return a place in the bar as drummers count quarters: 7/4 is "2a", 1/3 is "1+1/3"."""
    quarters = Fraction(step)
    whole, rest = divmod(quarters, 1)
    return (
        f"{whole + 1}{_BEAT_SUBDIVISIONS[rest]}"
        if rest in _BEAT_SUBDIVISIONS
        else f"{whole + 1}+{rest}"
    )


def has_value(figure: Summary) -> bool:
    """Return whether a figure has a value."""
    return figure["value"] is not None


def figure_text(figure: Summary, step: float) -> str:
    """Return a figure in full: "-4 ms (-6 to -2)", or why there is none."""
    if not has_value(figure):
        return f"not measured ({figure['why']})"
    unit = figure["unit"]
    text = _rounded_number(figure["value"], unit, step) + _unit_text(unit)
    if figure["low"] is None:
        return text
    low, high = (_rounded_number(figure[key], unit, step) for key in ("low", "high"))
    return f"{text} ({low} to {high})"


def _unit_text(unit: str) -> str:
    """Return a unit as it follows its number; velocity has none."""
    if unit.startswith("%"):
        return unit
    return f" {unit}" if unit and unit != "velocity" else ""


FEW = 100
"""An average of fewer than this is shown with its count."""


def few_text(count: int) -> str:
    """Return ", n = 40" for an average of few, nothing for one of `FEW` or more."""
    return f", n = {count}" if count < FEW else ""


def interval_text(figure: Summary, of: str, step: float, digits: int | None = None) -> str:
    """Return the ground of a difference: "8 to 15 (95% interval, 36 moves)".

    The amounts are those of the sentence before it: without a sign where both ends have the same,
    and with as many `digits` after the point.
    """
    ends = figure["low"], figure["high"]
    if figure["value"] < 0:
        ends = -figure["high"], -figure["low"]
    low, high = (_rounded_number(one, figure["unit"], step, digits) for one in ends)
    return f"{low} to {high} (95% interval, {count_text(figure['count'], of)})"


def _rounded_number(value: float, unit: str, step: float, digits: int | None = None) -> str:
    if unit.startswith("ms"):
        return f"{step * round(value / step) + 0.0:g}"
    if digits is not None:
        return f"{round(value, digits) + 0.0:.{digits}f}"
    return f"{round(value, 0 if abs(value) >= 100 else 1) + 0.0:g}" if unit else f"{value:.2f}"
