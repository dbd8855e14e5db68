"""A teacher's students: what is assigned to them, and what they send put in its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.actions.student_week import assignments
from trainer.archive import routines, students
from trainer.archive.carried_patterns import carrying, has_content, keep_copies, own_files
from trainer.errors import BadInput, TrainerError
from trainer.file_system import expand_home, free_path, read_bytes, read_text, write_file
from trainer.results import save_result

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from trainer.archive.students import Student, TakenIn


LARGEST_TAKE = 2**24


@dataclass(frozen=True, slots=True)
class TakeInRequest:
    """Files that a student sent; the rest says how recorded takes are read."""

    student: str
    files: tuple[str, ...]
    pattern: str | None = None
    kit: str | None = None
    latency_ms: float | None = None


def assign(name: str, given: str) -> tuple[Path, tuple[str, ...]]:
    """Put an assignment into a student's folder as one file that carries its own patterns.

    Returns where it is, and the patterns it carries. An older assignment of the same name is kept
    under another one. Raises BadInput.
    """
    student, source = students.find(name), routines.find_routine(given)
    text, carried = _packed(source)
    kept = student.routines / source.name
    if not has_content(kept, text):
        kept = free_path(kept)
        write_file(kept, text, own=True)
    keep_copies(carried, student.home / "patterns")
    return kept, tuple(carried)


def pack(given: str, output: Path) -> tuple[Path, tuple[str, ...]]:
    """Write an assignment as one file to send; returns where it is, and the patterns it carries.

    Raises BadInput.
    """
    source = routines.find_routine(given)
    text, carried = _packed(source)
    if output.suffix.lower() != routines.ROUTINE_ENDING:
        raise BadInput("an assignment ends in .toml", where=str(output), fix="rename it")
    return save_result(output, text, [source]), tuple(carried)


def _packed(source: Path) -> tuple[bytes, Mapping[str, bytes]]:
    """Return an assignment with its patterns that do not ship, and those; BadInput for no week."""
    routine = routines.load_routine(source)
    if routine.week is None:
        raise BadInput(
            "does not say for which week it is", where=str(source), fix="write week = 2026-11-30"
        )
    named = [block.pattern for block in routine.blocks if block.pattern and not block.source]
    text = carrying(read_text(source, routines.LARGEST_ROUTINE), own_files(named))
    try:
        return text.encode(), routines.read_routine(text, source.stem).carried
    except BadInput as fault:
        raise fault.at(str(source)) from None


def take_in(request: TakeInRequest) -> Iterator[TakenIn | TrainerError]:
    """Give what became of each file: taken in, known already, or why it cannot be read.

    Raises BadInput for a student who is not listed.
    """
    from trainer.actions.assess import AssessRequest, take_as_session
    from trainer.actions.replay import is_take

    student = students.find(request.student)
    others = students.load()
    for given in request.files:
        path = expand_home(given)
        try:
            if is_take(path):
                pattern = request.pattern or _likely_pattern(student, path, request)
                how = AssessRequest(path, pattern, kit=request.kit, latency_ms=request.latency_ms)
                data = read_bytes(path, LARGEST_TAKE)
                yield students.take_in_take(student, path, data, take_as_session(how))
            else:
                yield students.take_in_session(student, path, others)
        except TrainerError as fault:
            yield fault


def _likely_pattern(student: Student, path: Path, request: TakeInRequest) -> str:
    """Return the pattern that a take surely is, of the assignment or else of all; or BadInput."""
    from trainer.actions.recognise import RecogniseRequest, recognise

    assigned = {
        name: block.opened
        for one in assignments(student)[0]
        for name, block in routines.blocks_by_pattern(one).items()
    }
    for among in (tuple(assigned.values()), None):
        found = recognise(RecogniseRequest(path, among, request.kit, request.latency_ms))
        if found.guesses and (found.sure or among):
            alike = found.guesses[0].names
            if len(alike) == 1:
                return assigned.get(alike[0], alike[0])
            break  # hands cannot be heard
    names = ", ".join([name for one in found.guesses for name in one.names][:3]) or "none fits"
    raise BadInput(
        f"it is not sure which pattern this is ({names})",
        where=str(path),
        fix="say which one with --pattern",
    )


def save_page(path: Path, picture: str) -> Path:
    """Save a page as SVG, or as PDF by the end of its name, and return where it is.

    Raises BadInput for another end.
    """
    if path.suffix.lower() == ".pdf":
        from trainer.pattern.formats.sheet_print import to_pdf

        return save_result(path, to_pdf([picture]))
    if path.suffix.lower() == ".svg":
        return save_result(path, picture)
    raise BadInput("a page is .svg or .pdf", where=str(path), fix="end its name in one of them")
