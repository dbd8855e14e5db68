"""`trainer compare`: two sessions or takes of one pattern, and what changed beyond chance."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import report
from trainer.archive.find import find
from trainer.archive.store import open_session
from trainer.archive.summary import cut_short, summarise
from trainer.commands.taken import is_take
from trainer.errors import BadInput
from trainer.measure.compare import compare
from trainer.measure.figure import plain
from trainer.settings import folder_to_read

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence
    from typing import Any

    from trainer.measure.compare import Change
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
    changes: Sequence[Change]


def run(args: argparse.Namespace) -> int:
    """Compare two sessions or takes."""
    found = compared(args)
    if args.json:
        rows = [plain(one) for one in found.changes]
        report.as_json({"pattern": found.pattern, "sessions": list(found.names), "changes": rows})
    else:
        report.lines(lines(found))
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
    return Compared(titles[0], names, summaries, compare(*summaries))


def _read(given: str, args: argparse.Namespace) -> tuple[str, str, dict[str, Any]]:
    """Return the name, the pattern's name and the summary of a session or a recorded take."""
    if is_take(Path(given)):
        from trainer.commands.score import judged_take
        from trainer.measure.reading import read

        path = Path(given)
        options = Namespace(**vars(args), tempo=None, start="auto")
        found, judged, _ = judged_take(path, options)
        return path.name, found.course.pattern.name, read(judged).to_dict()
    path = find(folder_to_read(args.recordings), given)
    session = cut_short(open_session(path))
    return path.name, session.pattern.name, summarise(session)


def lines(found: Compared) -> Iterator[str]:
    """Yield what is compared, then a row a number."""
    yield found.summaries[0]["title"]
    for letter, name, summary in zip("AB", found.names, found.summaries, strict=True):
        low, high = summary["tempo_low"], summary["tempo_high"]
        tempo = f"{low:g} BPM" if low == high else f"{low:g} to {high:g} BPM"
        yield f"{letter}: {name}, {tempo}, {summary['counts']['targets']} strokes"
    changes = found.changes
    yield ""
    width = max(len(one.name) for one in changes) if changes else 0
    yield f"{'':{width}}  {'A':>12}  {'B':>12}  beyond chance"
    for one in changes:
        first, second = _told(one.first), _told(one.second)
        yield f"{one.name:{width}}  {first:>12}  {second:>12}  {_verdict(one)}"
    if not any(one.beyond_chance for one in changes):
        yield "Nothing changed beyond chance."


def _told(one: Figure) -> str:
    unit = f" {one.unit}" * bool(one.unit)
    return f"{one.value or 0.0:.1f}{unit}"


def _verdict(one: Change) -> str:
    if not one.beyond_chance:
        return "no"
    word = {True: "better", False: "worse", None: "moved"}[one.better]
    value, low, high = (
        number or 0.0 for number in (one.change.value, one.change.low, one.change.high)
    )
    return f"{word}, by {value:+.1f} ({low:+.1f} to {high:+.1f})"
