"""Two sessions of one pattern on the screen, and what changed beyond chance."""

from __future__ import annotations

from argparse import Namespace
from typing import TYPE_CHECKING

from trainer.archive.history import histories_by_pattern
from trainer.archive.session_list import list_sessions
from trainer.commands.compare import compared, lines
from trainer.errors import BadInput
from trainer.settings import existing_recordings_folder
from trainer.show.page import ChooseQuestion, Page, PageAct, PagePart, paragraphs
from trainer.show.session_words import date_words, duration_words, tempo_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.archive.history import PatternHistory
    from trainer.archive.session_list import SessionEntry
    from trainer.show.page import ReportProgress

GUIDE = (
    "Every pattern that you have played in two sessions or more. Enter compares the last two; c "
    "lets you choose which. Of each number the two values are shown, and whether they differ by "
    "more than chance does: then it says which way, by how much, and within which interval."
)


def page(_port: str) -> Page:
    """Return the page that lists what can be compared."""
    return Page(
        "Compare two sessions of one pattern",
        GUIDE,
        "trainer compare A B",
        _patterns,
        (
            PageAct("enter", "Last two", "Compare the pattern's last two sessions", _last_two),
            PageAct("c", "Choose two", "Choose which sessions to compare", _two, (_first, _second)),
        ),
    )


def _patterns(progress: ReportProgress) -> Iterator[PagePart]:
    progress("reading the sessions …")
    found = [one for one in _histories() if len(one.entries) > 1]
    for one in found:
        last = one.entries[-1]
        told = f"  {len(one.entries)} sessions, the last on {date_words(last.started)}"
        yield PagePart(one.title, (told,), one.name)
    if not found:
        yield PagePart(
            "No pattern has been played in two sessions yet.", ("Play one again first.",)
        )


def _histories() -> list[PatternHistory]:
    """Return the patterns, the one played last on top."""
    found = histories_by_pattern(list_sessions(existing_recordings_folder()).entries)
    return sorted(found, key=lambda one: one.entries[-1].started, reverse=True)


def _sessions(pattern: str) -> list[SessionEntry]:
    """Return the sessions of a pattern, the newest first; raises BadInput without two."""
    found = [one for one in _histories() if one.name == pattern and len(one.entries) > 1]
    if not found:
        raise BadInput("there are no two sessions to compare", mend="play the pattern again")
    return list(reversed(found[0].entries))


def _choices(sessions: list[SessionEntry]) -> list[tuple[str, str]]:
    return [(one.path.stem, ", ".join(_about(one))) for one in sessions]


def _about(one: SessionEntry) -> Iterator[str]:
    yield date_words(one.started)
    if one.tempos:
        yield tempo_words(*one.tempos)
    yield duration_words(one.seconds)
    if one.player:
        yield one.player


def _first(pattern: str) -> ChooseQuestion:
    return ChooseQuestion("The earlier session (A)", _choices(_sessions(pattern)[1:]))


def _second(pattern: str, first: str) -> ChooseQuestion:
    later = [one for one in _sessions(pattern) if one.path.stem != first]
    return ChooseQuestion("The session to compare it with (B)", _choices(later))


def _last_two(pattern: str) -> Page:
    second, first, *_ = _sessions(pattern)
    return _two(pattern, first.path.stem, second.path.stem)


def _two(pattern: str, first: str, second: str) -> Page:
    """Return the page that compares two sessions, by the names of their files."""
    paths = {one.path.stem: str(one.path) for one in _sessions(pattern)}

    def tell(progress: ReportProgress) -> Iterator[PagePart]:
        progress("reading both sessions …")
        given = Namespace(first=paths[first], second=paths[second], recordings=None)
        return paragraphs(lines(compared(given)))

    return Page(
        "What changed beyond chance",
        "Minus is early, and in a change it means less. Rows that say “no” differ by no more than "
        "chance makes two sessions differ.",
        f"trainer compare {first} {second}",
        tell,
    )
