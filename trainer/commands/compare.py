"""`trainer compare`: two sessions or takes of one pattern, and what changed beyond chance."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.archive.find_session import find_session
from trainer.archive.session_file import open_session
from trainer.archive.summary import cut_short, session_summary
from trainer.commands.taken import is_take
from trainer.errors import BadInput
from trainer.measure.comparison import compare_readings
from trainer.measure.figure import plain_values
from trainer.settings import existing_recordings_folder
from trainer.show.number_words import rounding_step
from trainer.show.reading_words import rounding_lines

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence
    from typing import Any

    from trainer.measure.comparison import NumberChange
    from trainer.measure.figure import Figure


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument(
        "first", help="a session file, a part of its name, or a recorded take (.mid): the earlier"
    )
    parser.add_argument("second", help="the session or take to compare it with")
    parser.add_argument("--pattern", metavar="P", help="what was played in a recorded take")
    parser.add_argument("--kit", metavar="NAME", help="read recorded takes through this kit")
    parser.add_argument("--latency", type=float, metavar="MS", help="how late that kit is, in ms")
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--json", action="store_true", help="every number as JSON")


@dataclass(frozen=True, slots=True)
class Compared:
    """Two takes of a pattern, the first as A: their names, summaries, and what changed."""

    pattern: str
    names: Sequence[str]
    summaries: Sequence[dict[str, Any]]
    changes: Sequence[NumberChange]


def run(args: argparse.Namespace) -> int:
    """Compare two sessions or takes."""
    found = compared(args)
    if args.json:
        rows = [plain_values(one) for one in found.changes]
        console.print_json(
            {"pattern": found.pattern, "sessions": list(found.names), "changes": rows}
        )
    else:
        console.print_lines(lines(found))
    return 0


def compared(args: argparse.Namespace) -> Compared:
    """Compare `args.first` with `args.second`; raises BadInput where the patterns differ."""
    names, titles, summaries = zip(
        *(_read(given, args) for given in (args.first, args.second)), strict=True
    )
    if titles[0] != titles[1]:
        raise BadInput(
            f'they play different patterns, "{titles[0]}" and "{titles[1]}"',
            mend="compare two of one pattern",
        )
    return Compared(titles[0], names, summaries, compare_readings(*summaries))


def _read(given: str, args: argparse.Namespace) -> tuple[str, str, dict[str, Any]]:
    """Return the name, the pattern's name and the summary of a session or a recorded take."""
    if is_take(Path(given)):
        from trainer.commands.score import judged_take
        from trainer.measure.reading import read_take

        path = Path(given)
        options = Namespace(**vars(args), tempo=None, start="auto")
        found, judged, _ = judged_take(path, options)
        told = read_take(judged, start_fitted=found.start_from == "played").to_dict()
        return path.name, found.course.pattern.name, told
    path = find_session(existing_recordings_folder(args.recordings), given)
    session = cut_short(open_session(path))
    return path.name, session.pattern.name, session_summary(session)


def lines(found: Compared) -> Iterator[str]:
    """Yield what is compared, then a row a number."""
    yield found.summaries[0]["title"]
    for letter, name, summary in zip("AB", found.names, found.summaries, strict=True):
        low, high = summary["tempo_low"], summary["tempo_high"]
        tempo = f"{low:g} BPM" if low == high else f"{low:g} to {high:g} BPM"
        yield f"{letter}: {name}, {tempo}, {summary['counts']['targets']} strokes"
    steps = [rounding_step(summary["resolution_ms"]) for summary in found.summaries]
    changes = found.changes
    yield ""
    width = max(len(one.name) for one in changes) if changes else 0
    yield f"{'':{width}}  {'A':>12}  {'B':>12}  beyond chance"
    for one in changes:
        first, second = map(_told, (one.first, one.second), steps)
        yield f"{one.name:{width}}  {first:>12}  {second:>12}  {_verdict(one, max(steps))}"
    if not any(one.beyond_chance for one in changes):
        yield "Nothing changed beyond chance."
    yield from rounding_lines(max(summary["resolution_ms"] or 0.0 for summary in found.summaries))


def _told(one: Figure, step: float) -> str:
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
