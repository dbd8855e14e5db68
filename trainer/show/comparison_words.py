"""Two sessions side by side in words: a row a number, a cell of the hit map, and advice's findings.

A difference is this session's figure minus the other's. It has a number only where it is more than
chance would do; the rest is `≈`, and `?` where there are too few strokes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.measure.figure import is_clear
from trainer.show import signs
from trainer.show.number_words import rounding_step
from trainer.show.reading_words import rounding_lines, weakness_words
from trainer.show.session_words import date_words, tempo_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.actions.advice import Advice
    from trainer.actions.comparison import Comparison
    from trainer.measure.comparison import NumberChange
    from trainer.measure.figure import Figure
    from trainer.measure.hit_map import CellChange
    from trainer.show.ink import Line


def comparison_lines(found: Comparison, names: Sequence[str] = ()) -> Iterator[str]:
    """Give what is compared, then a row a number; `names` instead of those of the files."""
    yield found.summaries[0]["title"]
    for letter, name, summary in zip("AB", names or found.names, found.summaries, strict=True):
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
    unit = one.unit if one.unit.startswith("%") else f" {one.unit}" * bool(one.unit)
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
    yield f"{one.session.pattern.title}, {date_words(one.session.header.started)}."
    newest = one.passed_over
    if newest:
        why = "has too few strokes" if newest.finished else "is still running, or was cut off"
        yield f"The last one, {newest.title}, {date_words(newest.started)}, {why}."


def finding_lines(one: Advice) -> Iterator[str]:
    """Give a line a finding, or why there is none."""
    if one.summary["advice"] is None:
        yield "Too few strokes landed to propose anything: play two minutes or more."
    elif not one.findings:
        yield "Nothing is weak: no move, hand, foot or change costs more than chance."
    for place, finding in enumerate(one.findings, 1):
        yield f"{place}. {weakness_words(finding)}: {'; '.join(finding['evidence'])}."


@dataclass(frozen=True, slots=True)
class ChangeWording:
    """How one figure's difference is shown: less and more of it as words, signs and inks.

    `{}` in a sign means the number; `unit` follows the number in words.
    """

    key: str
    name: str
    unit: str
    words: tuple[str, str]
    signs: tuple[str, str]
    inks: tuple[str, str]


CHANGE_WORDINGS = (
    ChangeWording("offset", "time", " ms", ("earlier", "later"), ("‹{}", "{}›"), ("off", "off")),
    ChangeWording("faults", "faults", "%", ("fewer", "more"), ("▼{}", "▲{}"), ("centre", "missed")),
    ChangeWording("power", "power", "", ("softer", "harder"), ("-{}", "+{}"), ("plain", "plain")),
    ChangeWording(
        "spread", "spread", " ms", ("tighter", "wider"), ("›{}‹", "‹{}›"), ("centre", "missed")
    ),
)
"""The figures in the order a cell shows them."""

ALIKE, UNKNOWN = "≈", "?"

CHANGE_MEANINGS = (
    ("‹4 ", "4 ms earlier than in the other session; 4› is 4 ms later"),
    ("▼9 ", "9% fewer missed or on a wrong pad; ▲9 is 9% more"),
    ("-6 ", "6 softer (MIDI velocity); +6 is 6 harder"),
    ("›3‹", "spread 3 ms tighter; ‹3› is 3 ms wider"),
    (" ≈ ", "no more difference than chance would make"),
    (" ? ", "too few strokes"),
    ("2:1", "strays: 2 strokes here, 1 in the other session"),
)


def change_sign(wording: ChangeWording, change: Figure, size: int) -> tuple[str, str]:
    """Return a difference as a sign of at most `size` characters, and its ink."""
    if change.value is None:
        return UNKNOWN, "faint"
    if not is_clear(change):
        return ALIKE, "faint"
    more = change.value > 0
    amount = abs(change.value)
    number = f"{amount:.0f}" if amount >= 1 else f"{amount:.1f}".lstrip("0")
    text = wording.signs[more].format(number)
    return (text if len(text) <= size else wording.signs[more].format("")[:size]), wording.inks[
        more
    ]


def change_cell_lines(change: CellChange, letter: str, size: int, view: int) -> list[Line]:
    """Return the lines of a cell, the chosen figure first; faults are beside the letter."""
    lines = [
        _line(wording, getattr(change, wording.key), letter, size) for wording in CHANGE_WORDINGS
    ]
    shown, spread = lines[:3], lines[3]
    return [*shown[view:], *shown[:view], spread]


def _line(wording: ChangeWording, change: Figure, letter: str, size: int) -> Line:
    """Return a sign in the middle of its cell, or right of its letter."""
    middle = signs.columns_before_letter(size)
    if wording.key == "faults" and size > middle + 1:
        text, ink = change_sign(wording, change, size - middle - 1)
        return ((" " * middle + letter, "faint"), (text.ljust(size - middle - 1), ink))
    text, ink = change_sign(wording, change, max(1, size - 1))
    return (((" " * (middle - len(text) // 2) + text).ljust(size), ink),)


def stray_text(here: int, there: int) -> str:
    """Return how many strays landed here and in the other session."""
    return f"{here}:{there}" if here or there else ""


def change_sentence(change: CellChange) -> str:
    """Return what differs: `4 ms later (1 to 7), 95% interval; power no different`."""
    figures = [(wording, getattr(change, wording.key)) for wording in CHANGE_WORDINGS]
    parts = [_one_change(wording, one) for wording, one in figures if is_clear(one)]
    alike = [
        wording.name for wording, one in figures if one.value is not None and not is_clear(one)
    ]
    unknown = [wording.name for wording, one in figures if one.value is None]
    if parts:
        parts = [f"{', '.join(parts)}, 95% interval{'s' * (len(parts) > 1)}"]
    parts += [f"{listed_names(alike)} no different"] if alike else []
    parts += [f"too few strokes for {listed_names(unknown)}"] if unknown else []
    return "; ".join(parts)


def listed_names(names: Sequence[str]) -> str:
    """Return names as a list in words: `time, faults and power`."""
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _one_change(wording: ChangeWording, change: Figure) -> str:
    """Return one difference with its interval: `4 ms later (1 to 7)`."""
    more = (change.value or 0.0) > 0
    amount, ends = abs(change.value or 0.0), (change.low or 0.0, change.high or 0.0)
    low, high = sorted(map(abs, ends))
    digits = 0 if amount >= 1 or wording.unit == " ms" else 1
    name = "" if wording.key == "offset" else f"{wording.name} "
    text = f"{name}{amount:.{digits}f}{wording.unit} {wording.words[more]}"
    return f"{text} ({low:.{digits}f} to {high:.{digits}f})"
