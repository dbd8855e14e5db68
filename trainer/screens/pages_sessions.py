"""Pages about sessions: advice on one, two side by side, and a take recorded elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.actions.advice import AdviceRequest, read_advice, save_drill
from trainer.actions.assess import AssessRequest, assess_take
from trainer.actions.comparison import CompareRequest, comparable_patterns, compare
from trainer.actions.replay import ReplayRequest
from trainer.actions.requests import PlayRequest, setup_on
from trainer.archive.session_list import find_session, list_sessions
from trainer.errors import BadInput
from trainer.file_system import expand_home, is_file
from trainer.pattern import library
from trainer.settings import existing_recordings_folder
from trainer.show.assess_words import assessed_lines
from trainer.show.comparison_words import advice_heading, comparison_lines, finding_lines
from trainer.show.history_words import session_choices
from trainer.show.page import ChooseQuestion, Page, PageAct, PagePart, TextQuestion, paragraphs
from trainer.show.reading_words import reading_lines
from trainer.show.session_words import date_words
from trainer.show.verdict_words import verdict_lines

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trainer.archive.session_list import SessionEntry
    from trainer.show.page import ReportProgress

MOST = 60
"""Sessions to choose from."""

ADVICE_GUIDE = (
    "What costs you most in a session, the costliest first. Below each is the evidence for it. A "
    "drill is a pattern made around one of them. It is slow enough to watch. Too little played: "
    "nothing is proposed."
)
COMPARE_GUIDE = (
    "Every pattern that you have played in two sessions or more. Enter compares the last two; c "
    "lets you choose. Each number is shown for both sessions. A change is named only where it is "
    "more than chance: which way, by how much, with its interval."
)
TWO_GUIDE = (
    "Minus is early, and in a change it means less. “no”: they differ by no more than chance "
    "would do."
)
ASSESS_GUIDE = (
    "A MIDI file from any program, checked as if played here. The program finds the first beat "
    "and checks the tempo. It is read with the kit that is set, or as General MIDI."
)


def advice_page(port: str) -> Page:
    """Return the advice on the newest session with enough strokes for it."""
    return _advice_on(None, port)


def _advice_on(session: Path | None, port: str) -> Page:
    request_of = str(session) if session else None

    def make(progress: ReportProgress) -> Iterator[PagePart]:
        progress("reading the session …")
        found = read_advice(AdviceRequest(existing_recordings_folder(), request_of))
        head, *remarks = advice_heading(found)
        yield PagePart(head, tuple(remarks))
        for place, line in enumerate(finding_lines(found)):
            what, _, evidence = line.partition(": ")
            listed = tuple(f"   {one}" for one in evidence.rstrip(".").split("; ") if one)
            name = str(place) if found.findings else ""
            yield PagePart(what if listed else line, listed, name)

    def save(place: str) -> str:
        found = read_advice(AdviceRequest(existing_recordings_folder(), request_of))
        if not place:
            raise BadInput("there is no drill here", fix="put the cursor on one of the things")
        return save_drill(found, found.findings[int(place)])

    def practise(place: str) -> PlayRequest:
        return PlayRequest(save(place), setup=setup_on(port))

    def another(_place: str, name: str) -> Page:
        return _advice_on(find_session(existing_recordings_folder(), name), port)

    return Page(
        "What is worth practising",
        ADVICE_GUIDE,
        "trainer advice",
        make,
        (
            PageAct("enter", "Practise the drill", "Save the drill and practise it now", practise),
            PageAct(
                "s",
                "Save it",
                "Save the drill as a pattern",
                lambda place: f"Saved: trainer play {save(place)}",
            ),
            PageAct(
                "c", "Another session", "The advice on another session", another, (_which_session,)
            ),
        ),
    )


def _which_session(_place: str) -> ChooseQuestion:
    entries = reversed(list_sessions(existing_recordings_folder()).entries)
    choices = session_choices([one for one in entries if one.played][:MOST], title=True)
    if not choices:
        raise BadInput("there is no session yet", fix="play one first")
    return ChooseQuestion("Which session?", choices, words_alone=True)


def compare_page(_port: str) -> Page:
    """Return the page that lists what can be compared."""
    return Page(
        "Compare two sessions of one pattern",
        COMPARE_GUIDE,
        "trainer compare A B",
        _comparable,
        (
            PageAct("enter", "Last two", "Compare the pattern's last two sessions", _last_two),
            PageAct("c", "Choose two", "Choose which sessions to compare", _two, (_first, _second)),
        ),
    )


def _comparable(progress: ReportProgress) -> Iterator[PagePart]:
    progress("reading the sessions …")
    found = comparable_patterns(existing_recordings_folder())
    for one in found:
        last = one.entries[-1]
        line = f"  {len(one.entries)} sessions, the last on {date_words(last.started)}"
        yield PagePart(one.title, (line,), one.name)
    if not found:
        yield PagePart(
            "No pattern has been played in two sessions yet.", ("Play one again first.",)
        )


def _sessions(pattern: str) -> list[SessionEntry]:
    """Return the sessions of a pattern, the newest first; raises BadInput without two."""
    for one in comparable_patterns(existing_recordings_folder()):
        if one.name == pattern:
            return list(reversed(one.entries))
    raise BadInput("there are no two sessions to compare", fix="play the pattern again")


def _first(pattern: str) -> ChooseQuestion:
    earlier = session_choices(_sessions(pattern)[1:])
    return ChooseQuestion("The earlier session (A)", earlier, words_alone=True)


def _second(pattern: str, first: str) -> ChooseQuestion:
    later = [one for one in _sessions(pattern) if one.path.stem != first]
    return ChooseQuestion(
        "The session to compare it with (B)", session_choices(later), words_alone=True
    )


def _last_two(pattern: str) -> Page:
    second, first, *_ = _sessions(pattern)
    return _two(pattern, first.path.stem, second.path.stem)


def _two(pattern: str, first: str, second: str) -> Page:
    """Return the page that compares two sessions, by the names of their files."""
    entries = {one.path.stem: one for one in _sessions(pattern)}
    both = entries[first], entries[second]
    names = [date_words(one.started.astimezone()) for one in both]
    paths = [str(one.path) for one in both]
    request = CompareRequest(existing_recordings_folder(), paths[0], paths[1])

    def make(progress: ReportProgress) -> Iterator[PagePart]:
        progress("reading both sessions …")
        return paragraphs(comparison_lines(compare(request), names))

    return Page("What changed", TWO_GUIDE, f"trainer compare {first} {second}", make)


def assess_page(_port: str) -> Page:
    """Return the page on which a recorded take is named."""
    return Page(
        "Check a take that was recorded elsewhere",
        ASSESS_GUIDE,
        "trainer assess TAKE --pattern P",
        _invite,
        (
            PageAct(
                "enter",
                "Choose a take",
                "Name a MIDI file and its pattern",
                _assessed,
                (_file, _which_pattern),
            ),
        ),
    )


def _invite(_progress: ReportProgress) -> Iterator[PagePart]:
    yield PagePart(
        "Press enter to name a MIDI file and what was played.",
        ("A file may be dropped on most terminals: its path is then typed for you.",),
    )


def _file(_under: str) -> TextQuestion:
    return TextQuestion("Which MIDI file?", "", _file_refusal)


def _file_refusal(path: str) -> str:
    return "" if is_file(_typed_path(path)) else "There is no such file."


def _typed_path(path: str) -> Path:
    """Return a path as typed, or as terminals quote one that is dropped on them."""
    return expand_home(path.strip("'\" "))


def _which_pattern(_under: str, _take: str) -> ChooseQuestion:
    choices = [(one.name, one.title) for one in library.catalogue() if not one.fault]
    return ChooseQuestion("What was played?", choices)


def _assessed(_under: str, take: str, pattern: str) -> Page:
    """Return the page of a take that was checked."""
    path = _typed_path(take)

    def make(progress: ReportProgress) -> Iterator[PagePart]:
        progress("finding the pattern in the take …")
        found = assess_take(AssessRequest(path, pattern))
        yield from paragraphs(verdict_lines(found.summary))
        yield PagePart("")
        yield from paragraphs(assessed_lines(found))
        yield PagePart("")
        yield from paragraphs(reading_lines(found.summary))

    again = ReplayRequest(path.parent, str(path), pattern=pattern)
    return Page(
        f"The take {path.name}",
        ASSESS_GUIDE,
        f"trainer assess {path} --pattern {pattern}",
        make,
        (
            PageAct(
                "enter", "Stroke by stroke", "Go through the take stroke by stroke", lambda _: again
            ),
        ),
    )
