"""History in words: patterns with trends, each session, a whole practice, ceilings and goals.

And a row for each session where one of several is chosen.
"""

from __future__ import annotations

from collections import Counter
from itertools import groupby, zip_longest
from typing import TYPE_CHECKING

from trainer.archive.ceilings import ladder_start
from trainer.archive.history import histories_by_pattern, histories_by_player, player_names
from trainer.measure.figure import is_clear
from trainer.pattern.description import limb_words, value_words
from trainer.practice.ladder import START_SHARE
from trainer.practice.routine import FREE
from trainer.show.ink import padded, shortened, text_width
from trainer.show.number_words import count_text
from trainer.show.reading_differences import fitted_lines
from trainer.show.session_words import (
    FEW_RUNGS,
    date_words,
    day_words,
    duration_words,
    empty_session_words,
    staircase_lines,
    tempo_words,
    trend_words,
)
from trainer.show.verdict_words import verdict_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date, datetime

    from trainer.actions.history import GoalMargins, GoalWindow, History
    from trainer.actions.routine import PlayedBlock
    from trainer.archive.ceilings import Climb, LadderResult
    from trainer.archive.history import PatternHistory
    from trainer.archive.session import RungResult
    from trainer.archive.session_list import RungConditions, SessionEntry
    from trainer.measure.ceiling import Ceiling, Margin
    from trainer.measure.endurance import Endurance
    from trainer.measure.limb_ceilings import LimbCeilings


NO_GOALS = 'No goals yet: trainer goal add "name" --tempo 152 --value 16'


def ladder_start_words(found: Ceiling, start: float) -> str:
    """Return in words where a ladder starts (BPM), and how far that is below the ceiling."""
    if start > ladder_start(found):
        return f"Start at {start:g} BPM, the slowest tempo that was clean last time"
    if start < ladder_start(found):
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


def practice_lines(title: str, blocks: Sequence[PlayedBlock]) -> Iterator[str]:
    """Yield the summary of a whole practice: the time played, then what came of each block."""
    seconds = sum(played.seconds for played in blocks)
    yield f"{title}: {count_text(len(blocks), 'block')}, {duration_words(seconds)} played."
    for played in blocks:
        block = played.block
        kind = "Open block" if block.kind == FREE else block.kind.capitalize()
        what = ", ".join(filter(None, [kind, block.title or block.pattern]))
        yield f"{what}: {_block_result(played)}."
        if played.ladder and played.ladder.after:
            yield f"  {short_ceiling_words(played.ladder.after)} now"


def _block_result(played: PlayedBlock) -> str:
    if played.finished.unplayed:
        return "nothing played"
    rungs = played.ladder.rungs if played.ladder else ()
    verdict = verdict_words(played.finished.summary, rungs)
    if verdict is None:
        return "no verdict"
    tempo = played.finished.summary["tempo_high"]
    at = f" at {tempo:g} BPM" if verdict.clean is not None and not rungs else ""
    return f"{verdict.headline.lower()}{at}{', ' if verdict.broke else ''}{verdict.broke}"


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
    if len(one.rungs) > FEW_RUNGS:
        yield from staircase_lines(one.rungs)
    else:
        yield from _course_lines(one.rungs)
    longest = max((rung.strokes for rung in one.rungs if rung.clean), default=0)
    if one.after is None and longest:
        yield f"Longest clean rung: {count_text(longest, 'stroke')}."
    clean_ones = [rung for rung in one.rungs if rung.tightest]
    if clean_ones:
        fastest = max(clean_ones, key=lambda rung: rung.tempo)
        head = f"Closest to its limit at {fastest.tempo:g} BPM"
        yield from fitted_lines(head, [fastest.tightest])
    if one.after:
        before = short_ceiling_words(one.before) if one.before else "no ladder yet"
        yield f"Before: {before}."
        yield f"Now: {short_ceiling_words(one.after)}."
    if one.limbs:
        yield from _limb_lines(one.limbs)
    if one.length:
        yield from _length_lines(one.length)


def _limb_lines(one: LimbCeilings) -> Iterator[str]:
    """Give each hand's own ceiling, what both together cost, and what tempo does to power."""
    known = {name: figure for name, figure in one.hands.items() if figure.value is not None}
    if len(known) == len(one.hands):
        parts = [
            f"{limb_words(name)} {figure.value:.0f} BPM ({figure.low:.0f} to {figure.high:.0f})"
            for name, figure in known.items()
        ]
        parts += [f"the limit is the {limb_words(one.limit)}"] if one.limit else []
        if is_clear(one.cost) and (one.cost.value or 0.0) > 0:
            parts.append(
                f"together {one.cost.value:.0f}% lower ({one.cost.low:.0f} to {one.cost.high:.0f})"
            )
        yield from fitted_lines("Each hand alone", parts)
    parts = [
        f"{abs(figure.value or 0.0):.0f} {more if (figure.value or 0.0) > 0 else less}"
        for figure, more, less in (
            (one.louder, "louder", "softer"),
            (one.rougher, "more uneven", "less uneven"),
        )
        if is_clear(figure) and round(figure.value or 0.0)
    ]
    yield from fitted_lines("Power with every 10% of tempo", parts)


def _length_lines(one: Endurance) -> Iterator[str]:
    """Give what length costs, and the ceilings of a burst and of a long rung."""
    lost = one.lost
    if lost.value is None:
        return
    parts = [f"{lost.value:.0f}% of tempo with every doubling ({lost.low:.0f} to {lost.high:.0f})"]
    parts += [f"{n} strokes up to {figure.value:.0f} BPM" for n, figure in one.at.items()]
    yield from fitted_lines("Length costs", parts)


def _course_lines(rungs: Sequence[RungResult]) -> Iterator[str]:
    """Give each rung, those that were clean in a row as one."""
    for is_clean, group in groupby(rungs, key=lambda rung: rung.clean):
        if is_clean:
            row = [rung.tempo for rung in group]
            yield f"  {tempo_words(row[0], row[-1])} clean"
        else:
            for rung in group:
                yield from fitted_lines(
                    f"  {rung.tempo:g} BPM not clean", rung.failed or ("no reason saved",)
                )


def goal_lines(one: GoalMargins) -> Iterator[str]:
    """Give a goal, then the lines of each margin."""
    goal = one.goal
    value = value_words(goal.value)
    yield f"{goal.name}: {value} at {goal.tempo:g} BPM, {one.asked:.1f} strokes a second"
    if not one.margins:
        yield "  no ladder to compare with yet: trainer ladder PATTERN"
    for lines in margin_lines(one):
        yield from lines


def margin_lines(one: GoalMargins) -> Iterator[list[str]]:
    """Give the lines of each margin: how far it is, under which conditions, and until when."""
    named = _to_be_named([climb for climb, _ in one.margins])
    for (climb, margin), window in zip_longest(one.margins, one.windows):
        by = f", {climb.player}" * bool(climb.player)
        tempo = one.goal.tempo * (1 + margin.margin)
        mean, low, high = (100 * share + 0.0 for share in (margin.margin, margin.low, margin.high))
        lines = [
            f"  {margin.standing}, margin {signed(mean)}% ({signed(low)} to {signed(high)}): "
            f"up to {tempo:.0f} BPM, {margin.ceiling:.1f} a second{by}: {climb.title}"
        ]
        if (climb.player.casefold(), climb.pattern) in named:
            lines.append(f"    {conditions_words(climb.conditions)}")
        yield lines + [f"    {words}" for words in _window_words(margin, window)]


def _window_words(margin: Margin, window: GoalWindow | None) -> Iterator[str]:
    """Give when a goal is reached, and what a week off costs; nothing where it is safe."""
    if window is None or margin.standing == window.why:
        return
    if window.why:
        yield f"no date yet: {window.why}"
    elif window.first is None:
        yield "not within two years at this rate"
    elif window.last is None:
        yield f"not before {day_words(window.first)} at this rate, if at all"
    elif window.first == window.last:
        yield f"reached by {day_words(window.last)} at this rate"
    else:
        yield (
            f"reached between {day_words(window.first)} and {day_words(window.last)} at this rate"
            " (90%)"
        )
    off = window.week_off
    if off is not None and is_clear(off):
        way = "costs" if (off.value or 0.0) < 0 else "brings"
        yield f"a week off {way} {abs(off.value or 0.0):.0f}% of tempo, {off.count} gaps"


def signed(percent: float) -> str:
    """Return a share in whole percent with its sign; nothing is minus zero."""
    return f"{round(percent):+d}" if round(percent) else "0"


LATEST = 20
CEILINGS = 8
"""How many sessions and ceilings are listed unless all are wanted."""


def history_lines(history: History, now: datetime, *, everything: bool = False) -> Iterator[str]:
    """Give a history: the time played, each pattern, the sessions, and the ceilings as of now."""
    today = now.date()
    entries, climbs = history.chosen, history.climbs
    total = sum(entry.seconds for entry in entries)
    yield (
        f"{_count(entries)}, {duration_words(total)} of playing,"
        f" from {day_words(entries[0].started, today)} to {day_words(entries[-1].started, today)}."
    )
    if len(names := player_names(entries)) > 1:
        yield f"Several players are in it: {', '.join(names)}. --player NAME shows one of them."
    for one in histories_by_pattern(entries):
        yield ""
        yield from _pattern_lines(one)
    yield ""
    shown = entries if everything else entries[-LATEST:]
    yield "Sessions, the latest last:" if len(shown) == len(entries) else f"The latest {LATEST}:"
    yield from (_session_line(entry, today) for entry in shown)
    yield from _ceiling_lines(climbs if everything else climbs[-CEILINGS:], now)


def _ceiling_lines(climbs: Sequence[Climb], now: datetime) -> Iterator[str]:
    """Give the ceilings of some climbs, the one played last at the end."""
    if climbs:
        yield ""
        yield "Ceilings:"
    named = _to_be_named(climbs)
    for climb in climbs:
        found = climb.ceiling(now)
        by = f"{climb.player}, " * bool(climb.player)
        if found:
            yield f"  {climb.title}: {by}{ceiling_words(found)}."
            if (climb.player.casefold(), climb.pattern) in named:
                yield f"    {conditions_words(climb.conditions)}"


def _to_be_named(climbs: Sequence[Climb]) -> set[tuple[str, str]]:
    """Return player and pattern of ladders that only their conditions keep apart."""
    seen = Counter((one.player.casefold(), one.pattern) for one in climbs)
    return {key for key, count in seen.items() if count > 1}


def conditions_words(one: RungConditions) -> str:
    """Return what rungs were played under: "solid, 4 passes a rung, on TD-17"."""
    length = f"{count_text(one.passes, 'pass', 'passes')} a rung" if one.passes else ""
    parts = [one.strictness, length, f"on {one.input}" if one.input else ""]
    return ", ".join(part for part in parts if part) or "nothing known of its conditions"


def _pattern_lines(history: PatternHistory) -> Iterator[str]:
    yield f"{history.title}: {_played(history)}"
    owned = histories_by_player(history)
    if len(owned) == 1:
        yield from (f"  {trend_words(trend)}" for trend in history.trends())
        return
    for name, own in owned:
        yield f"  {name}: {_played(own)}"
        yield from (f"    {trend_words(trend)}" for trend in own.trends())


def _played(history: PatternHistory) -> str:
    tempos = f", {tempo_words(*history.tempos)}" if history.tempos else ""
    return f"{_count(history.entries)}, {duration_words(history.seconds)}{tempos}"


def _session_line(entry: SessionEntry, today: date) -> str:
    tempos = tempo_words(*entry.tempos) if entry.tempos else "no pass"
    by = f", {entry.player}" if entry.player else ""
    clean = f", clean at {entry.clean_tempo:g}" if entry.clean_tempo else ""
    played = empty_session_words(entry) or f"{tempos}{clean}, {duration_words(entry.seconds)}"
    when = date_words(entry.started.astimezone(), today)
    return f"  {when}: {played}{by}: {entry.title}"


def _count(entries: Sequence[SessionEntry]) -> str:
    return count_text(len(entries), "session")


def session_choices(
    entries: Iterable[SessionEntry], *, title: bool = False
) -> list[tuple[str, str]]:
    """Return sessions to choose from by name and row: no two rows of a player are alike.

    The time has seconds only where two of them began in one minute. Beside a `title` there is no
    room for tempos.
    """
    entries = list(entries)
    began = Counter(f"{one.started:%F %H:%M}" for one in entries)
    rows = []
    for one in entries:
        started = one.started.astimezone()
        seconds = f"{started:%H:%M:%S}" if began[f"{one.started:%F %H:%M}"] > 1 else ""
        rows.append(
            (
                f"{day_words(started)}, {seconds or f'{started:%H:%M}'}",
                shortened(one.title, TITLE_COLUMNS) if title else "",
                tempo_words(*one.tempos) if one.tempos and not title else "",
                f"clean at {one.clean_tempo:g}" if one.clean_tempo and not title else "",
                empty_session_words(one) or duration_words(one.seconds),
                one.player,
            )
        )
    widths = [max(map(text_width, column)) for column in zip(*rows, strict=True)]
    lines = [
        "  ".join(padded(text, width) for text, width in zip(row, widths, strict=True) if width)
        for row in rows
    ]
    names = (one.path.stem for one in entries)
    return [(name, line.rstrip()) for name, line in zip(names, lines, strict=True)]


TITLE_COLUMNS = 28
"""Columns of a title among sessions to choose from."""
