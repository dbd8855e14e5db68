"""The result of a ladder: its rungs, and the ceiling before and after it, in words and JSON."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.archive.ceilings import climb_of, estimate_document, short_ceiling_words
from trainer.archive.session_file import open_session
from trainer.archive.session_list import list_sessions
from trainer.errors import TrainerError
from trainer.show.number_words import count_text
from trainer.show.reading_differences import fitted_lines
from trainer.show.session_words import tempo_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trainer.archive.session import RungResult, Session
    from trainer.archive.session_list import SessionEntry
    from trainer.measure.ceiling import Ceiling


@dataclass(frozen=True, slots=True)
class LadderResult:
    """The rungs of one session, and the player's ceiling of its pattern before and after.

    `before` is None on the first ladder, `after` where the session is not among those known.
    """

    rungs: tuple[RungResult, ...]
    before: Ceiling | None
    after: Ceiling | None


def read_ladder_result(path: str | Path | None) -> LadderResult | None:
    """Return the result of a saved session's ladder; None where there is none to read."""
    if path is None:
        return None
    try:
        session = open_session(Path(path))
        return (
            ladder_result_among(session, list_sessions(Path(path).parent).entries)
            if session.rungs
            else None
        )
    except (TrainerError, OSError):
        return None  # The session may be where nothing can be read back: it is saved all the same.


def ladder_result_among(session: Session, entries: Iterable[SessionEntry]) -> LadderResult:
    """Return the result of a session's ladder, given all sessions of its folder."""
    started, header = session.header.started, session.header
    climb = climb_of(
        (one for one in entries if one.started <= started), header.player, header.pattern.name
    )
    earlier = [one.started for one in climb.entries if one.started < started] if climb else []
    return LadderResult(
        session.rungs,
        climb.ceiling(earlier[-1]) if climb and earlier else None,
        climb.ceiling(started) if climb else None,
    )


def ladder_lines(one: LadderResult | None) -> Iterator[str]:
    """Yield a ladder in words: its course, clean rungs in a row as one, and the ceiling.

    Nothing without a ladder.
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


def ladder_document(one: LadderResult) -> dict[str, Any]:
    """Return a ladder for JSON; tempos in BPM, an open end of an interval is null."""
    return {
        "rungs": [
            {"tempo": rung.tempo, "clean": rung.clean, "failed": list(rung.failed)}
            for rung in one.rungs
        ],
        "ceiling_before": estimate_document(one.before.half) if one.before else None,
        "ceiling_after": estimate_document(one.after.half) if one.after else None,
    }
