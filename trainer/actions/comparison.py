"""Two sessions or takes of one pattern, and what changed by more than chance would."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.actions.assess import AssessRequest, assess_take
from trainer.actions.replay import is_take
from trainer.archive.history import INPUT_WORDS, histories_by_pattern
from trainer.archive.session_file import open_session
from trainer.archive.session_list import (
    by_people,
    find_session,
    input_kind,
    list_sessions,
)
from trainer.archive.summary import cut_short, session_summary
from trainer.errors import BadInput
from trainer.measure.comparison import compare_readings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.archive.history import PatternHistory
    from trainer.measure.comparison import NumberChange


@dataclass(frozen=True, slots=True)
class CompareRequest:
    """Two sessions (names as `find_session` takes them) or takes, the earlier one first.

    `pattern`, `kit` and `latency_ms` say how recorded takes are read.
    """

    folder: Path
    first: str
    second: str
    pattern: str | None = None
    kit: str | None = None
    latency_ms: float | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two takes of a pattern, the first as A: their names, summaries, and what changed."""

    pattern: str
    names: Sequence[str]
    summaries: Sequence[dict[str, Any]]
    changes: Sequence[NumberChange]


def compare(request: CompareRequest) -> Comparison:
    """Compare two sessions or takes; raises BadInput for one twice, or two patterns."""
    paths = [_find(given, request.folder) for given in (request.first, request.second)]
    if paths[0] == paths[1]:
        raise BadInput("both are the same", where=paths[0].name, fix="name two different ones")
    names, kinds, titles, summaries = zip(*(_read(one, request) for one in paths), strict=True)
    if all(kinds) and kinds[0] != kinds[1]:
        raise BadInput(
            f"one was played {INPUT_WORDS[kinds[0]]}, the other {INPUT_WORDS[kinds[1]]}",
            fix="compare two that were played on the same",
        )
    if titles[0] != titles[1]:
        raise BadInput(
            f'they play different patterns, "{titles[0]}" and "{titles[1]}"',
            fix="compare two of one pattern",
        )
    return Comparison(titles[0], names, summaries, compare_readings(*summaries))


def comparable_patterns(folder: Path) -> list[PatternHistory]:
    """Return the patterns with two sessions or more, the one played last on top.

    Sessions of a person alone, and of a pattern those on what it was played on last: a kit and
    computer keys are never compared.
    """
    entries = by_people(list_sessions(folder).entries)
    last = {entry.pattern: entry.played_on for entry in entries}
    found = histories_by_pattern(one for one in entries if one.played_on == last[one.pattern])
    several = [one for one in found if len(one.entries) > 1]
    return sorted(several, key=lambda one: one.entries[-1].started, reverse=True)


def _find(given: str, folder: Path) -> Path:
    return Path(given) if is_take(Path(given)) else find_session(folder, given)


def _read(path: Path, request: CompareRequest) -> tuple[str, str, str, dict[str, Any]]:
    """Return name, input, pattern's name and summary of a session or a recorded take.

    The input of a take is empty: nobody knows it.
    """
    if is_take(path):
        take = AssessRequest(path, request.pattern, kit=request.kit, latency_ms=request.latency_ms)
        one = assess_take(take)
        return path.name, "", one.found.course.pattern.name, one.summary
    session = cut_short(open_session(path))
    kind = input_kind(session.header.source)
    return path.name, kind, session.pattern.name, session_summary(session)
