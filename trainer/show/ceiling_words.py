"""Ceilings, the result of a ladder, and the margins of goals in words."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from trainer.archive.ceilings import ladder_start
from trainer.practice.ladder import START_SHARE
from trainer.show.number_words import count_text
from trainer.show.reading_differences import fitted_lines
from trainer.show.session_words import tempo_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.actions.goals import GoalMargins
    from trainer.archive.ceilings import LadderResult
    from trainer.measure.ceiling import Ceiling

NO_GOALS = 'No goals yet: trainer goal add "name" --tempo 152 --value 16'


def ladder_start_words(found: Ceiling, start: float) -> str:
    """Return in words where a ladder starts (BPM), and how far that is below the ceiling."""
    if start != ladder_start(found):
        return f"Start at {start:g} BPM, the edge of this ladder's range"
    below = f"{1 - START_SHARE:.0%} below {found.three_quarters.tempo:.0f}, where 3 in 4 are clean"
    half = found.half
    if half.open_above or half.open_below:
        return f"Start at {start:g} BPM, {below}"
    under = 100 * (1 - start / half.tempo)
    return f"Start at {start:g} BPM, {under:.0f}% below your ceiling of {half.tempo:.0f}"


def ladder_start_line(ceiling: Ceiling, start: float) -> str:
    """Return where a ladder begins (BPM), and the ceiling so far, from which that follows."""
    return f"So far: {ceiling_words(ceiling)}. {ladder_start_words(ceiling, start)}."


def ceiling_words(found: Ceiling) -> str:
    """Return a ceiling in words: a figure with its 90% interval, or the bound that is known."""
    half = found.half
    if half.open_above:
        return f"clean up to at least {half.tempo:.0f} BPM"
    if half.open_below:
        return f"ceiling at most {half.tempo:.0f} BPM"
    return f"{short_ceiling_words(found)}, 3 in 4 clean at {found.three_quarters.tempo:.0f}"


def short_ceiling_words(found: Ceiling) -> str:
    """Return the ceiling alone in words."""
    half = found.half
    if half.open_above or half.open_below:
        return ceiling_words(found)
    return f"ceiling {half.tempo:.0f} BPM ({half.low:.0f} to {half.high:.0f}, 90% interval)"


def ladder_lines(one: LadderResult | None) -> Iterator[str]:
    """Give a ladder in words: its course, rungs that were clean in a row as one, and the ceiling.

    Nothing where there was no ladder.
    """
    if one is None:
        return
    clean = sum(rung.clean for rung in one.rungs)
    tempos = [rung.tempo for rung in one.rungs]
    count = count_text(len(tempos), "rung")
    yield f"Ladder: {count} at {tempo_words(min(tempos), max(tempos))}, {clean} clean."
    for is_clean, rungs in groupby(one.rungs, key=lambda rung: rung.clean):
        if is_clean:
            row = [rung.tempo for rung in rungs]
            yield f"  {tempo_words(row[0], row[-1])} clean"
        else:
            for rung in rungs:
                yield from fitted_lines(
                    f"  {rung.tempo:g} BPM not clean", rung.failed or ("no reason saved",)
                )
    if one.after:
        before = short_ceiling_words(one.before) if one.before else "no ladder yet"
        yield f"Before: {before}."
        yield f"Now: {short_ceiling_words(one.after)}."


def goal_lines(one: GoalMargins) -> Iterator[str]:
    """Give a goal, then a line for each margin."""
    goal = one.goal
    yield f"{goal.name}: {goal.value} at {goal.tempo:g} BPM, {one.asked:.1f} strokes a second"
    if not one.margins:
        yield "  no ladder to compare with yet: trainer ladder PATTERN"
    for climb, margin in one.margins:
        by = f"{climb.player}, " * bool(climb.player)
        yield (
            f"  {margin.standing}: {by}{climb.title} at {margin.ceiling:.1f} a second, margin "
            f"{100 * margin.margin:+.0f}% ({100 * margin.low:+.0f} to {100 * margin.high:+.0f})"
        )
