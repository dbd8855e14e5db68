"""The verdict on a session in words: clean or not, what broke first, three lines, what comes next.

All of it is read from the summary; `rungs` are those of its ladder, whose verdicts are those of the
session. An open block has no verdict, nor has a take of too few strokes. The next tempo is a step
up after a clean session and a step back after another one (the sizes are our own choice).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainer.measure.clean import FEWEST_STROKES
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.show.number_words import (
    Summary,
    ahead_text,
    count_text,
    duration_text,
    few_text,
    has_value,
    offset_text,
    rounding_step,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from trainer.archive.session import RungResult

CLEAN, NOT_CLEAN, NO_RUNG = "CLEAN", "NOT CLEAN", "NO RUNG CLEAN"
TOO_SHORT, NO_VERDICT, OPEN_BLOCK = "TOO SHORT", "NO VERDICT", "OPEN BLOCK"
NOT_PLAYED = "NOT PLAYED"

STEP_UP, STEP_BACK = 1.05, 0.90

DIVISIONS = {
    "1": "quarters",
    "2": "eighths",
    "3": "triplets",
    "4": "sixteenths",
    "6": "sextuplets",
    "8": "32nds",
}


@dataclass(frozen=True, slots=True)
class VerdictWords:
    """What the summary begins with.

    `clean` is None where there is no verdict. `broke` is what broke first (or why there is no
    verdict), `lines` are time, power and faults, `following` says what to do next and
    `next_tempo` at which tempo (BPM, None where nothing follows from it).
    """

    clean: bool | None
    headline: str
    broke: str
    lines: tuple[str, ...]
    following: str
    next_tempo: float | None = None


def verdict_words(
    summary: Mapping[str, Any] | None, rungs: Sequence[RungResult] = ()
) -> VerdictWords | None:
    """Return the verdict of a summary; None where it is older than verdicts, or nothing was due."""
    if not summary or "clean" not in summary:
        return None
    if not (summary["counts"]["targets"] or is_open(summary)):
        return None
    if rungs:
        return _of_ladder(dict(summary), rungs)
    if is_open(summary):
        return _of_open_block(dict(summary))
    return _of_take(dict(summary))


def is_open(summary: Mapping[str, Any]) -> bool:
    """Return whether a summary is of an open block: strokes, and none of them written."""
    return bool(summary["open_block"]["divisions"])


def verdict_lines(
    summary: Mapping[str, Any] | None, rungs: Sequence[RungResult] = ()
) -> Iterator[str]:
    """Yield the verdict and what to do next as lines of text."""
    found = verdict_words(summary, rungs)
    if found is None or summary is None:
        return
    strict = f" ({summary['clean']['strict']})" if found.clean is not None else ""
    between = "" if not found.broke else "; " if rungs else ": "
    yield f"{found.headline}{strict}{between}{found.broke}."
    if found.following:
        yield f"{found.following}."


def next_tempo(clean: bool, tempo: float) -> float:
    """Return the tempo (whole BPM) to play next: a step up after a clean take, else one back."""
    moved = max(round(tempo * STEP_UP), tempo + 1) if clean else round(tempo * STEP_BACK)
    return float(min(MAX_TEMPO, max(MIN_TEMPO, moved)))


def _of_take(summary: Summary) -> VerdictWords:
    verdict, lines = summary["clean"], main_lines(summary)
    clean, failed = verdict["clean"], verdict["failed"]
    if clean is None:
        if verdict["strict"]:
            why, tempo = f"no verdict under {FEWEST_STROKES} strokes", summary["tempo_low"]
            return VerdictWords(None, TOO_SHORT, why, lines, _again(tempo), tempo)
        return VerdictWords(None, NO_VERDICT, "it is not known what counted as clean", lines, "")
    if clean:
        tempo = next_tempo(True, summary["tempo_high"])
        following = f"Next: {tempo:g} BPM"
        return VerdictWords(True, CLEAN, "", lines, following, tempo)
    tempo = next_tempo(False, summary["tempo_low"])
    following = f"Next: {tempo:g} BPM, until it is clean there"
    return VerdictWords(False, NOT_CLEAN, failed[0]["words"], lines, following, tempo)


def not_played(tempo: float) -> VerdictWords:
    """Return what is said of a session without a stroke, at a tempo."""
    why = "no stroke, so nothing was saved"
    return VerdictWords(None, NOT_PLAYED, why, (), _again(tempo), tempo)


def _again(tempo: float) -> str:
    return f"Next: {tempo:g} BPM again, for a minute"


def _of_ladder(summary: Summary, rungs: Sequence[RungResult]) -> VerdictWords:
    clean = [rung.tempo for rung in rungs if rung.clean]
    failed = [rung for rung in rungs if not rung.clean and rung.failed]
    broke = f"{failed[-1].tempo:g} BPM: {failed[-1].failed[0]}" if failed else ""
    headline = f"{CLEAN} AT {max(clean):g}" if clean else NO_RUNG
    start = next_start(rungs)
    following = f"Next: a ladder from {start:g} BPM"
    return VerdictWords(bool(clean), headline, broke, main_lines(summary), following, start)


def next_start(rungs: Sequence[RungResult]) -> float:
    """Return the tempo to begin the next ladder at, after at least one rung.

    It is one that was clean: the fastest up to where the ladder ended, else the slowest. Where none
    was clean it is a step below the slowest.
    """
    clean = [rung.tempo for rung in rungs if rung.clean]
    if not clean:
        return next_tempo(False, min(rung.tempo for rung in rungs))
    return max((one for one in clean if one <= rungs[-1].tempo), default=min(clean))


def _of_open_block(summary: Summary) -> VerdictWords:
    found, lines = summary["open_block"], tuple(open_block_lines(summary))
    wide, step = found["spread"], rounding_step(summary["resolution_ms"])
    if not has_value(wide):
        return VerdictWords(None, OPEN_BLOCK, "not measured", lines, _again(summary["tempo_low"]))
    spread = duration_text(wide["value"], step)
    following = f"Next: {summary['tempo_low']:g} BPM again, with a spread under {spread}"
    return VerdictWords(None, OPEN_BLOCK, f"spread {spread}", lines, following)


def open_block_lines(summary: Summary) -> Iterator[str]:
    """Yield how even an open block was against the click, and what was played."""
    found, step = summary["open_block"], rounding_step(summary["resolution_ms"])
    count = sum(found["divisions"].values())
    if not has_value(found["spread"]):
        yield f"Against the click: not measured, {found['spread']['why']}."
    else:
        mean, spread = found["mean"], found["spread"]
        yield (
            f"Against the click: {offset_text(mean['value'], step)} on average, "
            f"spread {duration_text(spread['value'], step)}{few_text(spread['count'])}."
        )
    if count:
        parts = sorted(found["divisions"].items(), key=lambda one: -one[1])
        shares = (f"{round(100 * n / count)}% in {DIVISIONS[name]}" for name, n in parts[:3])
        yield f"Played: {count_text(count, 'stroke')}, {', '.join(shares)}."


def main_lines(summary: Summary) -> tuple[str, ...]:
    """Return time, power and faults, a line each, and how silent bars went where there were any."""
    step = rounding_step(summary["resolution_ms"])
    lines = (_time_line(summary, step), _power_line(summary), _fault_line(summary))
    return (*lines, *_silence_line(summary, step))


def _time_line(summary: Summary, step: float) -> str:
    mean, spread = summary["offset"]["mean"], summary["offset"]["spread"]
    parts = []
    if has_value(mean):
        parts.append(f"{offset_text(mean['value'], step)} on average")
    if has_value(spread):
        parts.append(f"spread {duration_text(spread['value'], step)}{few_text(spread['count'])}")
    return f"Time    {', '.join(parts) or 'too few strokes to measure'}"


def _silence_line(summary: Summary, step: float) -> Iterator[str]:
    back = summary["silence"]["back"]
    if has_value(back):
        came = ahead_text(back["value"], step)
        yield f"Silent  came back {came} on average{few_text(back['count'])}"


def _power_line(summary: Summary) -> str:
    mean, uneven = summary["power"]["mean"], summary["power"]["uneven"]
    if not has_value(mean):
        return "Power   too few strokes to measure"
    vary = f", equal strokes vary by {uneven['value']:.0f}" if has_value(uneven) else ""
    return f"Power   {mean['value']:.0f} of 127{vary}{few_text(mean['count'])}"


def _fault_line(summary: Summary) -> str:
    counts = summary["counts"]
    named = (
        ("missed", "missed"),
        ("wrong_pad", "on a wrong pad"),
        ("extra", "stray"),
        ("rim", "on the rim"),
    )
    parts = [f"{counts[key]} {words}" for key, words in named if counts[key]]
    return f"Faults  {', '.join(parts) or 'none'} in {count_text(counts['targets'], 'stroke')}"
