"""Students: a name and a folder each, listed in a TOML file, and what they send put in its place.

[[student]]
name = "Mara"
folder = ""                  # empty: a folder of that name beside this file

A student's folder holds what a player's own does (`recordings`, `routines`, `patterns`, ...), so
every command works in it (`trainer --student Mara history`), and a folder that is kept in step with
the student's computer needs no server. Nothing of one student is written into another's folder.

A session is known by its first line (pattern, start, kit), a recorded take by its bytes: what comes
twice, under any name, is counted once. A cut-off session is replaced by the whole one.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer import checked
from trainer.archive import session_format
from trainer.archive.session import LONGEST_FILE, LONGEST_HEADER, SESSION_SUFFIX
from trainer.archive.session_file import open_session, open_session_file
from trainer.archive.session_list import SessionListing, list_sessions
from trainer.archive.summary import clean_tempo, judge_session, summary_of
from trainer.checked import FaultList, read_fields
from trainer.errors import BadInput
from trainer.file_system import (
    NoSuchFile,
    expand_home,
    free_path,
    read_bytes,
    read_text,
    user_folder,
    write_file,
    write_text,
)
from trainer.toml_text import changed_text, parse

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from pathlib import Path

    from trainer.archive.session import Session
    from trainer.archive.session_list import SessionEntry

LARGEST, MOST_STUDENTS = 1_000_000, 1000
RECORDED = "recorded take"
"""What a take that was sent is played on."""

STUDENT_NAME = re.compile(r"[\w][\w .'-]{0,59}")
"""A name that is also a folder's: no slashes, no control characters, at most 60 letters."""

FIELDS: dict[str, Callable[[Any], Any]] = {"name": checked.text, "folder": checked.text}


@dataclass(frozen=True, slots=True)
class Student:
    """A student's name and the folder, empty for one of that name beside the list."""

    name: str
    folder: str = ""

    @property
    def home(self) -> Path:
        """The folder that holds the student's recordings, routines and the rest."""
        return expand_home(self.folder) if self.folder else user_folder("students") / self.name

    @property
    def recordings(self) -> Path:
        """The folder of the student's sessions."""
        return self.home / "recordings"

    @property
    def routines(self) -> Path:
        """The folder of the student's assignments and routines."""
        return self.home / "routines"


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What became of one file that was sent: `kind` is new, known, completed or cut off.

    `title` is the pattern that a recorded take was read as, empty for a session.
    """

    sent: Path
    kind: str
    kept: Path
    title: str = ""


def path() -> Path:
    """Return where the students are listed."""
    return user_folder("students.toml")


def load() -> tuple[Student, ...]:
    """Return the students in the order of the list, none without one; faults have their lines."""
    try:
        return read(_source())
    except BadInput as fault:
        raise fault.at(str(path())) from None


def read(source: str) -> tuple[Student, ...]:
    """Return the students a TOML text lists; raises BadInput or Faults."""
    faults = FaultList(source)
    top = read_fields(parse(source), {"student": checked.as_it_is}, faults, ())
    listed = top.get("student", [])
    found: list[Student] = []
    for place, values in checked.read_tables(
        listed, "student", faults, (FIELDS, ("name",)), MOST_STUDENTS
    ):
        try:
            one = Student(**values)
            check_name(one.name, found)
            found.append(one)
        except BadInput as fault:
            faults.add(fault, ("student", place, "name"))
    faults.show()
    return tuple(found)


def check_name(name: str, known: Iterable[Student]) -> None:
    """Raise BadInput for a name that cannot be a folder's, or that is taken."""
    if not STUDENT_NAME.fullmatch(name) or name.rstrip(" .") != name:
        raise BadInput(
            f'"{checked.shown(name)}" cannot be the name of a student',
            fix="use up to 60 letters, digits, blanks, dots and dashes",
        )
    if any(one.name.casefold() == name.casefold() for one in known):
        raise BadInput(f'there is a student "{name}" already', fix="add a second name or a letter")


def add(name: str, folder: str = "") -> Student:
    """List a student; raises BadInput for a name that is taken or no folder's."""
    known = load()
    check_name(name, known)
    if len(known) >= MOST_STUDENTS:
        raise BadInput(f"there are {MOST_STUDENTS} students already", fix="remove one first")
    one = Student(name, folder)
    if folder and not one.home.is_dir():
        raise BadInput("there is no such folder", where=folder[:200], fix="make it first")
    if any(other.home.resolve() == one.home.resolve() for other in known):
        raise BadInput("this folder is another student's", where=folder[:200], fix="choose another")
    _save(known, (*known, one))
    one.home.mkdir(parents=True, exist_ok=True)
    return one


def remove(name: str) -> Student:
    """Take a student off the list and return it; no file of the student's is touched."""
    known, one = load(), find(name)
    _save(known, [other for other in known if other != one])
    return one


def find(name: str) -> Student:
    """Return the student of a name, in small or capital letters; raises BadInput."""
    known = load()
    for one in known:
        if one.name.casefold() == name.casefold():
            return one
    raise BadInput(
        f'there is no student "{checked.shown(name)}"',
        fix=checked.nearest(name, [one.name for one in known])
        if known
        else 'add one: trainer student add "Name"',
    )


def known_sessions(student: Student) -> SessionListing:
    """Return a student's sessions, the oldest first, copies of one session counted once.

    A program that keeps folders in step leaves copies under other names where two computers wrote.
    """
    listed = list_sessions(student.recordings)
    found: dict[bytes, SessionEntry] = {}
    for entry in listed.entries:
        mark = _mark(entry.path)
        if mark not in found or (entry.finished and not found[mark].finished):
            found[mark] = entry
    entries = sorted(found.values(), key=lambda one: one.started)
    return SessionListing(tuple(entries), listed.faults)


def take_in_session(student: Student, sent: Path, others: Sequence[Student] = ()) -> TakenIn:
    """Copy a session that a student sent into the student's history.

    Raises BadInput for what is no whole session file, and for one that names another student as
    its player.
    """
    session = open_session(sent)
    _check_player(session, student, others, sent)
    mark = _mark(sent)
    for entry in list_sessions(student.recordings).entries:
        if _mark(entry.path) != mark:
            continue
        if entry.finished or session.summary is None:
            return TakenIn(sent, "known", entry.path)
        write_file(entry.path, read_bytes(sent, LONGEST_FILE))
        return TakenIn(sent, "completed", entry.path)
    name = sent.name if sent.name.endswith(SESSION_SUFFIX) else sent.stem + SESSION_SUFFIX
    kept = free_path(student.recordings / name)
    write_file(kept, read_bytes(sent, LONGEST_FILE), own=True)
    return TakenIn(sent, "cut off" if session.summary is None else "new", kept)


def take_in_take(student: Student, sent: Path, data: bytes, session: Session) -> TakenIn:
    """Keep a recorded take, read as a session, in the student's history; `data` are its bytes."""
    mark = hashlib.sha256(data).hexdigest()[:12]
    kept = student.recordings / f"take-{mark}{SESSION_SUFFIX}"
    if kept.exists():
        return TakenIn(sent, "known", kept)
    # Under the file's name each take would be one of another input, never to be compared.
    # The number, which conditions leave out, keeps takes of one moment and pattern apart.
    source = f"{RECORDED} {int(mark, 16)}"
    session = replace(session, header=replace(session.header, source=source))
    write_file(kept, _session_bytes(session), own=True)
    return TakenIn(sent, "new", kept, session.pattern.title)


def _session_bytes(session: Session) -> bytes:
    """Return the text of a whole session file."""
    take = judge_session(session)
    rows = [session_format.header_line(session.header)]
    rows += map(session_format.pass_line, session.passes)
    rows += map(session_format.strike_line, session.strikes)
    rows.append(
        session_format.summary_line(
            summary_of(session, take),
            session.pattern,
            session.passes,
            len(session.strikes),
            (),
            clean_tempo=clean_tempo(session, take),
        )
    )
    return b"".join(rows)


def _check_player(
    session: Session, student: Student, others: Sequence[Student], sent: Path
) -> None:
    player = session.header.player.casefold()
    other = [one.name for one in others if one.name.casefold() == player and one != student]
    if other:
        raise BadInput(
            f"this session is {other[0]}'s", where=str(sent), fix=f"take it in for {other[0]}"
        )


def _mark(file: Path) -> bytes:
    with open_session_file(file) as opened:
        return hashlib.sha256(opened.readline(LONGEST_HEADER + 2)).digest()


def _source() -> str:
    try:
        return read_text(path(), LARGEST)
    except NoSuchFile:
        return ""


def _save(before: Sequence[Student], after: Sequence[Student]) -> None:
    write_text(path(), changed_text(_source(), _table(before), _table(after), read), LARGEST)


def _table(students: Sequence[Student]) -> dict[str, Any]:
    rows = [
        {"name": one.name, **({"folder": one.folder} if one.folder else {})} for one in students
    ]
    return {"student": rows} if rows else {}
