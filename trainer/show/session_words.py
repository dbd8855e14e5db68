"""A session in words: what was played when, the result, and what happened on the way.

Also a routine: its blocks, what follows one, where a rest is missing; and tonight's practice.
"""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from trainer.archive.session import played_seconds
from trainer.archive.summary import summary_differences
from trainer.errors import TrainerError
from trainer.practice.evening import ASSIGNED, DUE, GOAL, LATELY, LONG_EVENING, STEP, WEAK
from trainer.practice.routine import FREE, PROPOSED_REST_MINUTES, REST, WARM_UP, missing_rests
from trainer.show import drawing, reading_words
from trainer.show.number_words import count_text, offset_text, percent_text
from trainer.show.reading_differences import fitted_lines
from trainer.show.session_progress import SessionFrame
from trainer.show.verdict_words import verdict_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import date

    from trainer.actions.hard_spot import HardSpotRequest
    from trainer.actions.replay import OpenedSession, ReplayStep
    from trainer.actions.tonight import Tonight
    from trainer.archive.history import Trend
    from trainer.archive.recovery import Recovery
    from trainer.archive.session import RungResult, Session, SessionMark
    from trainer.archive.session_list import SessionEntry
    from trainer.measure.hard_spot import SpotFigures
    from trainer.practice.evening import Candidate, Evening, EveningBlock
    from trainer.practice.routine import Block, Routine, RoutineProgress


MARK_WORDS = {
    "pause": "paused",
    "resume": "continued",
    "unplugged": "kit unplugged",
    "plugged": "kit back",
    "stall": "the program was too slow",
}


TREND_WORDS = {
    "tempo_high": ("fastest pass", "BPM", ".0f"),
    "errors_percent": ("missed or on a wrong pad", "%", ".1f"),
    "offset_ms": ("offset", "ms", ".0f"),
    "spread_ms": ("spread", "ms", ".0f"),
    "evenness_ms": ("intervals vary by", "ms", ".0f"),
    "gap_ms": ("gap between hands and feet", "ms", ".0f"),
    "power_uneven": ("equal strokes vary by", "of 127", ".0f"),
    "silence_ms": ("after silent bars off by", "ms", ".0f"),
}
"""What each trend is called, its unit, and how its numbers are written."""


def trend_words(trend: Trend) -> str:
    """Return a trend in words: "spread: 14 ms at first, 11 ms now"."""
    words, unit, form = TREND_WORDS[trend.name]
    if trend.name == "offset_ms":
        return f"{words}: {offset_text(trend.first)} at first, {offset_text(trend.last)} now"
    first, last = (
        f"{one:{form}}{unit}" if unit == "%" else f"{one:{form}} {unit}"
        for one in (trend.first, trend.last)
    )
    return f"{words}: {first} at first, {last} now"


def date_words(moment: datetime, today: date | None = None) -> str:
    """Return a date and time in short: "1 Mar, 18:30"."""
    return f"{day_words(moment, today)}, {moment:%H:%M}"


def day_words(moment: date, today: date | None = None) -> str:
    """Return a day in short, "1 Mar"; with its year where that is not the year of `today`."""
    year = today.year if today else this_year()
    return f"{moment.day} {moment:%b}" + f" {moment.year}" * (moment.year != year)


def this_year() -> int:
    """Return the year it is."""
    return datetime.now(UTC).year


def duration_words(seconds: float) -> str:
    """Return a time in seconds below two minutes, else in minutes."""
    whole, unit = (round(seconds), "second") if seconds < 120 else (round(seconds / 60), "minute")
    return count_text(whole, unit)


def tempo_words(low: float, high: float) -> str:
    """Return a range of tempos: 80 BPM, or 80 to 96 BPM."""
    return f"{low:g} BPM" if low == high else f"{low:g} to {high:g} BPM"


def empty_session_words(entry: SessionEntry) -> str:
    """Return why there are no figures of a session, empty where there are."""
    if not entry.finished:
        return "still running, or cut off"
    return "" if entry.strikes and entry.tempos else "nothing played"


THE_WHOLE = "the whole pattern"


def spot_words(spot: HardSpotRequest) -> str:
    """Return which bars a hard spot is: "bar 7", "bars 7 to 8"."""
    first, last = spot.first + 1, spot.last + 1
    return f"bar {first}" if first == last else f"bars {first} to {last}"


def spot_result_words(spot: HardSpotRequest, change: str, after: SpotFigures) -> str:
    """Return whether a hard spot got better: "Bar 7: better. Before 12% wrong, now 3%"."""
    before, parts = spot.before, []
    if before.faults.value is not None and after.faults.value is not None:
        parts.append(
            f"{percent_text(before.faults.value)} missed or wrong before, "
            f"{percent_text(after.faults.value)} now"
        )
    if before.spread.value is not None and after.spread.value is not None:
        parts.append(f"spread {before.spread.value:.0f} ms before, {after.spread.value:.0f} ms now")
    bars = spot_words(spot)
    return f"{bars[:1].upper()}{bars[1:]}: {change}. {'; '.join(parts)}".rstrip(". ") + "."


def recovered_words(found: Recovery) -> str:
    """Say that a session was cut off and is finished now."""
    if isinstance(found, TrainerError):
        return str(found)
    session = found.session
    strokes = count_text(len(session.strikes), "stroke")
    played = duration_words(played_seconds(session.pattern, session.passes))
    return (
        f"The session of {date_words(session.header.started)} was cut off. It is finished now: "
        f"{session.pattern.title}, {strokes}, {played} "
        f"({found.path.name})."
    )


def opening_words(step: ReplayStep) -> str:
    """Say what is being done while a session is opened."""
    if step.kind == "search":
        return "looking through the folder"
    verb = {"read": "reading", "judge": "judging", "measure": "measuring"}[step.kind]
    return f"{verb} {step.name or f'{step.strokes} strokes'}"


def opened_remarks(opened: OpenedSession) -> Iterator[str]:
    """Give what should be known about a session's file beside its numbers."""
    session = opened.session
    if session.summary is None:
        yield "This session was cut off: it is judged up to its last stroke."
        return
    differing = sorted(summary_differences(session.summary, opened.summary))
    if differing:
        yield (
            f"Judged again, {len(differing)} numbers differ from those saved at the time"
            f" (the first: {differing[0]}). The file was saved by version"
            f" {session.header.software}."
        )


def session_lines(
    session: Session, summary: dict[str, Any], *, full: bool = False
) -> Iterator[str]:
    """Yield a session line by line; `summary` is the reading as computed now.

    `full` adds every group of the reading.
    """
    yield _title(session)
    yield _played(session)
    yield from damaged_words(session.damaged)
    yield from verdict_lines(summary, session.rungs)
    yield from reading_words.reading_lines(summary, full=full)
    if len(session.rungs) > FEW_RUNGS:
        yield from staircase_lines(session.rungs)
    else:
        for rung in session.rungs:
            yield from _rung(rung)
    yield from (_mark(mark) for mark in session.marks if mark.kind in MARK_WORDS)


def damaged_words(numbers: tuple[int, ...]) -> Iterator[str]:
    """Yield which lines of the file were skipped and what that does to the figures."""
    for number in numbers:
        yield (
            f"Line {number} of the file is damaged and was skipped. It held a stroke, which may "
            "count as missed. The file is unchanged."
        )


def _title(session: Session) -> str:
    header = session.header
    by = f", {header.player}" if header.player else ""
    return f"{date_words(header.started)}{by}, on {session.kit.title}."


def _played(session: Session) -> str:
    if not session.passes:
        return "No pass was started."
    return f"Played for {duration_words(played_seconds(session.pattern, session.passes))}."


FEW_RUNGS = 8
"""Rungs up to which each has a line of its own; more are a picture."""


def staircase_lines(rungs: Sequence[RungResult]) -> Iterator[str]:
    """Give a ladder as a picture, and what was not clean in how many rungs."""
    drawn = min(len(rungs), drawing.STAIR_COLUMNS)
    which = "Rung by rung" if drawn == len(rungs) else f"The last {drawn} of {len(rungs)} rungs"
    yield f"{which}, ● clean, × not:"
    yield from drawing.staircase([(rung.tempo, rung.clean) for rung in rungs])
    why = Counter(_what_failed(rung.failed[0]) for rung in rungs if rung.failed)
    if why:
        reasons = [f"{what} ({count_text(count, 'rung')})" for what, count in why.most_common(3)]
        yield from fitted_lines("What failed first", reasons)


def _what_failed(reason: str) -> str:
    """Return a reason without its figures: "hands spread 14 ms, limit 11" is "hands spread"."""
    words = [one for one in reason.partition(", limit")[0].split() if not one[0].isdigit()]
    return " ".join(one for one in words if one != "ms").removesuffix(" by") or reason


def _rung(rung: RungResult) -> Iterator[str]:
    head = f"Rung {rung.index + 1}, {rung.tempo:g} BPM"
    if rung.clean:
        yield f"{head}: clean."
    else:
        yield from fitted_lines(f"{head}, not clean", rung.failed or ("no reason saved",))


def _mark(mark: SessionMark) -> str:
    reason = f" ({mark.reason})" if mark.reason else ""
    return f"At {mark.time_s:.1f} s {MARK_WORDS[mark.kind]}{reason}."


DONE = "The routine is done."
STOPPED = "Stopped here. The same command continues with this block."


def overview(routine: Routine) -> Iterator[str]:
    """Yield the title and a line a block, with what should be said of long stretches."""
    yield f"{routine.title}: {routine.minutes:g} minutes"
    missing = rest_remarks(routine)
    for place, block in enumerate(routine.blocks):
        yield f"  {place + 1}. {block_words(block)}"
        if place in missing:
            yield f"     ({missing[place]})"
    if routine.carried:
        yield f"  Brings {', '.join(routine.carried)}"


def namesake_words(file: str) -> str:
    """Say that a routine's own pattern is played where the player has another of its name."""
    return f"{file}: the routine's own is played; yours of this name stays as it is."


def rest_remarks(routine: Routine) -> dict[int, str]:
    """Return what should be said after some blocks: that a rest is missing there."""
    return {
        place: f"after {minutes:g} minutes of playing without a rest, "
        f"{PROPOSED_REST_MINUTES:g} minutes off would do you good"
        for place, minutes in missing_rests(routine)
    }


def block_words(block: Block, seconds: float | None = None, tempo: str = "") -> str:
    """Return what a block is, with the time it takes, or with the seconds that are left of it.

    `tempo` says where it begins. The title comes last: it may be long, and have commas.
    """
    seconds = block.seconds if seconds is None else seconds
    minutes = f"{seconds / 60:.3g} minute" + "s" * (round(seconds / 60, 2) != 1)
    if block.kind == REST:
        return f"rest, {minutes}"
    if block.kind == FREE:
        return f"open block, {minutes}"
    return ", ".join(filter(None, [block.kind, minutes, tempo, block.title or block.pattern]))


def following_words(routine: Routine, at: int) -> str:
    """Return what follows a block, empty after the last one."""
    return next((block_words(one) for one in routine.blocks[at + 1 : at + 2]), "")


TAKE_CARE = "Rest when you want to, and stop when something hurts."
FIRST_EVENING = "Nothing played yet on this: it begins with first steps."
ELSEWHERE = "What you played on another input does not count here; see --port."
LONG_WORDS = "Over two hours: better spread over days, with long rests."


def evening_lines(found: Tonight) -> Iterator[str]:
    """Yield tonight's practice: its length, a line a block with its why, and what to know."""
    yield evening_title(found.evening)
    yield from evening_remarks(found)
    if found.begun:
        yield f"Begun today and not finished; continue it: trainer routine {found.begun}"
    for place, one in enumerate(found.evening.blocks, 1):
        yield f"  {place}. {evening_block_words(one)}"
        yield f"     {why_words(one)}"
    if found.evening.spare:
        names = list(dict.fromkeys(one.title or one.pattern for one in found.evening.spare))
        yield f"Also worth playing: {', '.join(names[:MOST_SPARE])}"
    yield TAKE_CARE


MOST_SPARE = 4
"""So many patterns are named beside those of the evening."""


def evening_title(evening: Evening) -> str:
    """Return how long an evening is, and how much of it is rest."""
    rests = sum(one.block.minutes for one in evening.blocks if one.block.kind == REST)
    return f"Tonight: {evening.minutes:g} minutes" + f", {rests:g} of them rest" * bool(rests)


def evening_remarks(found: Tonight) -> Iterator[str]:
    """Yield what is to be said before the blocks of an evening."""
    if found.first:
        yield ELSEWHERE if found.elsewhere else FIRST_EVENING
    if found.evening.minutes > LONG_EVENING:
        yield LONG_WORDS
    yield from (f"Passed over: {why}" for why in found.passed_over)


def evening_block_words(one: EveningBlock) -> str:
    """Return a block of an evening with the tempo it begins at."""
    if one.begin is None:
        return block_words(one.block)
    tempo = f"{'at' if one.block.tempo else 'from'} {one.begin:.0f} BPM"
    return block_words(one.block, tempo=tempo)


def why_words(one: EveningBlock) -> str:
    """Return why a block is there."""
    if one.block.kind == REST:
        return "put the sticks down"
    if one.candidate is None:
        return "nothing is known yet that fits: play what you like"
    if one.block.kind == WARM_UP and one.candidate.settled is None:
        most = one.candidate.most
        return "warm up " + (f"well below the {most:.0f} BPM you play clean" if most else "slowly")
    return WHY[one.candidate.reason](one.candidate)


def _why_goal(one: Candidate) -> str:
    need = f"goal “{one.about}” needs {one.need:.0f} BPM"
    if one.margin is None:
        return f"{need}, no ladder yet"
    share = f"{abs(one.margin):.0%}"
    when = f", {day_words(one.earliest)} at the earliest" if one.earliest else ""
    return f"{need}: {share} short{when}" if one.margin < 0 else f"{need}: {share} in reserve"


def _why_step(one: Candidate) -> str:
    step = f"{one.about}, step {one.step}"
    return f"{step} got no faster: one back" if one.back else f"{step}: clean at {one.need:g} BPM"


def _days_ago(one: Candidate) -> str:
    days = int(one.days or 0)
    return f"{count_text(days, 'day')} ago" if days else "within a day"


WHY: dict[str, Callable[[Candidate], str]] = {
    ASSIGNED: lambda one: f"assigned: clean at {one.need:g} BPM" if one.need else "assigned",
    GOAL: _why_goal,
    WEAK: lambda one: f"weakest lately: {reading_words.weakness_words(one.finding)}; its drill",
    STEP: _why_step,
    DUE: lambda one: f"due again: last played {_days_ago(one)}",
    LATELY: lambda one: f"nothing pays more; last played {_days_ago(one)}",
}
"""The words of each reason."""


def block_frame(routine: Routine, progress: RoutineProgress) -> SessionFrame:
    """Return the place of the next block in its routine, its time, and what follows it."""
    at = progress.block
    place = f"block {at + 1} of {len(routine.blocks)}"
    return SessionFrame(progress.left(routine), block=place, after=following_words(routine, at))
