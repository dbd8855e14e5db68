"""What a session says is worth practising, with its drills, on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.archive.find_session import find_session
from trainer.archive.session_list import list_sessions
from trainer.commands import advice
from trainer.errors import BadInput
from trainer.settings import existing_recordings_folder
from trainer.show.page import ChooseQuestion, Page, PageAct, PagePart, RunCommand
from trainer.show.session_words import date_words, tempo_words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trainer.show.page import ReportProgress

MOST = 60
"""Sessions to choose from."""

GUIDE = (
    "The two or three things that cost you most in a session, the costliest first, each with its "
    "evidence. A drill is a pattern made around one of them, slow enough to watch. Where a "
    "session says too little, nothing is proposed."
)


def page(port: str) -> Page:
    """Return the advice on the newest session with enough strokes for it."""
    return _of(None, port)


def _of(session: Path | None, port: str) -> Page:
    name = str(session) if session else None

    def tell(progress: ReportProgress) -> Iterator[PagePart]:
        progress("reading the session …")
        found = advice.asked_for(existing_recordings_folder(), name)
        head, *remarks = advice.heading(found)
        yield PagePart(head, tuple(remarks))
        for place, line in enumerate(advice.lines(found)):
            what, _, evidence = line.partition(": ")
            listed = tuple(f"   {one}" for one in evidence.rstrip(".").split("; ") if one)
            yield PagePart(what if listed else line, listed, str(place) if found.weak else "")

    def save(place: str) -> str:
        found = advice.asked_for(existing_recordings_folder(), name)
        if not place:
            raise BadInput("there is no drill here", mend="put the cursor on one of the things")
        return advice.save_drill(found.weak[int(place)], found.session, found.summary)

    def practise(place: str) -> RunCommand:
        return RunCommand(("play", save(place), "--port", port))

    return Page(
        "What is worth practising",
        GUIDE,
        "trainer advice",
        tell,
        (
            PageAct("enter", "Practise the drill", "Save the drill and practise it now", practise),
            PageAct(
                "s", "Save it", "Save the drill as a pattern", lambda place: _saved(save(place))
            ),
            PageAct(
                "c",
                "Another session",
                "The advice on another session",
                lambda _, path: _of(find_session(existing_recordings_folder(), path), port),
                (_session,),
            ),
        ),
    )


def _saved(drill: str) -> str:
    return f"Saved: trainer play {drill}"


def _session(_place: str) -> ChooseQuestion:
    entries = [
        one for one in reversed(list_sessions(existing_recordings_folder()).entries) if one.played
    ][:MOST]
    told = [
        (
            one.path.stem,
            f"{date_words(one.started)}, {one.title}, {tempo_words(*one.tempos or (0, 0))}",
        )
        for one in entries
    ]
    if not told:
        raise BadInput("there is no session yet", mend="play one first")
    return ChooseQuestion("Which session?", told)
