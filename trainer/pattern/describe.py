"""A pattern in words: title, meters, sections, counts by limb and drum, moves, what was assumed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.pattern.physical import NAMES, Demand, demand
from trainer.pattern.tables import NOTE_VALUES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.pattern.model import Pattern, Section


def lines(pattern: Pattern, *, brief: bool = False) -> Iterator[str]:
    """Yield what stands above the tab: title, sections, counts, moves, what was assumed.

    In brief, sections and moves are left out.
    """
    yield pattern.title
    if pattern.about:
        yield pattern.about
    tags = f", {', '.join(pattern.tags)}" if pattern.tags else ""
    yield (
        f"{_meters(pattern)}, {size(pattern)}, "
        f"{pattern.tempo:g} BPM{_unit(pattern)}, level {pattern.level}{tags}"
    )
    if pattern.sections and not brief:
        yield f"sections: {'; '.join(map(_section, pattern.sections))}"
    yield from _counted(demand(pattern), moves=not brief)
    for assumed in pattern.assumed:
        yield f"assumed: {assumed}"


def size(pattern: Pattern) -> str:
    """Return how long a pattern is: "1 bar, 16 strokes"."""
    bars, strokes = len(pattern.bars), pattern.strokes
    return f"{bars} bar{'s' * (bars != 1)}, {strokes} stroke{'s' * (strokes != 1)}"


def _meters(pattern: Pattern) -> str:
    return ", ".join(dict.fromkeys(str(bar.meter) for bar in pattern.bars))


def _unit(pattern: Pattern) -> str:
    """Return the note value BPM counts, where it is not the quarter."""
    names = (name for name, value in NOTE_VALUES.items() if value.length == pattern.tempo_unit)
    return "" if pattern.tempo_unit == 1 else f" in {next(names, pattern.tempo_unit)}"


def _section(section: Section) -> str:
    first, last = section.first_bar + 1, section.first_bar + section.bar_count
    bars = f"bar {first}" if first == last else f"bars {first} to {last}"
    times = f", {section.times} times" if section.times > 1 else ""
    return f"{section.title or 'untitled'} ({bars}{times})"


def _counted(asked: Demand, *, moves: bool) -> Iterator[str]:
    limbs = (f"{NAMES[limb] if limb else 'no limb'} {n}" for limb, n in asked.limbs.items())
    graces = f", grace strokes {asked.graces}" if asked.graces else ""
    yield f"strokes: {', '.join(limbs)}{graces}"
    yield f"drums: {', '.join(f'{voice} {n}' for voice, n in asked.voices.items())}"
    if moves and asked.moves:
        told = (f"{limb} {one} to {two} {n}" for (limb, one, two), n in asked.moves.items())
        yield f"moves: {', '.join(told)}"
    for warning in asked.warnings:
        yield f"warning: {warning}"
