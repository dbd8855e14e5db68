"""What a session says is worth practising, with its drills, on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.archive.find import find
from trainer.archive.index import scan
from trainer.archive.words import bpm, day
from trainer.commands import advice
from trainer.errors import BadInput
from trainer.screens.page import Act, Choose, Page, Part, Run
from trainer.settings import folder_to_read

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trainer.screens.page import Progress

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

    def tell(progress: Progress) -> Iterator[Part]:
        progress("reading the session …")
        found = advice.asked_for(folder_to_read(), name)
        head, *remarks = advice.heading(found)
        yield Part(head, tuple(remarks))
        for place, line in enumerate(advice.lines(found)):
            what, _, evidence = line.partition(": ")
            listed = tuple(f"   {one}" for one in evidence.rstrip(".").split("; ") if one)
            yield Part(what if listed else line, listed, str(place) if found.weak else "")

    def save(place: str) -> str:
        found = advice.asked_for(folder_to_read(), name)
        if not place:
            raise BadInput("there is no drill here", mend="put the cursor on one of the things")
        return advice.save_drill(found.weak[int(place)], found.session, found.summary)

    def practise(place: str) -> Run:
        return Run(("play", save(place), "--port", port))

    return Page(
        "What is worth practising",
        GUIDE,
        "trainer advice",
        tell,
        (
            Act("enter", "Practise the drill", "Save the drill and practise it now", practise),
            Act("s", "Save it", "Save the drill as a pattern", lambda place: _saved(save(place))),
            Act(
                "c",
                "Another session",
                "The advice on another session",
                lambda _, path: _of(find(folder_to_read(), path), port),
                (_session,),
            ),
        ),
    )


def _saved(drill: str) -> str:
    return f"Saved: trainer play {drill}"


def _session(_place: str) -> Choose:
    entries = [one for one in reversed(scan(folder_to_read()).entries) if one.played][:MOST]
    told = [
        (one.path.stem, f"{day(one.started)}, {one.title}, {bpm(*one.tempos or (0, 0))}")
        for one in entries
    ]
    if not told:
        raise BadInput("there is no session yet", mend="play one first")
    return Choose("Which session?", told)
