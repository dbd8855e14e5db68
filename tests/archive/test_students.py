"""A student's folder: what is sent is kept once; damaged or foreign files are refused in words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from sessions import header, play, saved

from trainer.archive import students
from trainer.archive.journal import Journal
from trainer.archive.session_list import list_sessions
from trainer.errors import BadInput, TrainerError

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    "name",
    ["", " ", ".", "a/b", "..", "a\\b", "x\x1b[31m", "n" * 10_000, "Mara.", "\u202ekcab", "-x"],
)
def test_a_name_that_is_no_folders_is_refused(name: str) -> None:
    """Nothing is written, and the message is short whatever the name was."""
    with pytest.raises(BadInput, match="cannot be the name") as fault:
        students.add(name)
    assert len(str(fault.value)) < 200
    assert not students.path().exists()


def test_a_name_is_taken_in_capitals_too_and_removing_touches_no_file() -> None:
    """The list is a TOML file in which comments written by hand survive."""
    mara = students.add("Mara")
    with pytest.raises(BadInput, match="already"):
        students.add("MARA")
    students.path().write_text("# my Tuesday students\n" + students.path().read_text())
    students.add("Jun Li")
    mara.recordings.mkdir(parents=True)
    students.remove("mara")
    assert [one.name for one in students.load()] == ["Jun Li"]
    assert "# my Tuesday students" in students.path().read_text()
    assert mara.recordings.is_dir()


def test_two_students_never_share_a_folder(tmp_path: Path) -> None:
    """A folder that is kept in step with the student's computer is one student's alone."""
    students.add("Mara", str(tmp_path))
    with pytest.raises(BadInput, match="another student's"):
        students.add("Jun", str(tmp_path))
    with pytest.raises(BadInput, match="no such folder"):
        students.add("Jun", str(tmp_path / "none"))


def test_what_comes_twice_under_any_name_counts_once(tmp_path: Path) -> None:
    """Also a copy that a program which keeps folders in step left beside the original."""
    mara, sent = students.add("Mara"), saved(tmp_path)
    first = students.take_in_session(mara, sent)
    other = tmp_path / "conflicted copy.jsonl"
    other.write_bytes(sent.read_bytes())
    second = students.take_in_session(mara, other)
    assert (first.kind, second.kind) == ("new", "known")
    assert len(list_sessions(mara.recordings).entries) == 1

    (mara.recordings / "copy of it.jsonl").write_bytes(sent.read_bytes())
    assert len(list_sessions(mara.recordings).entries) == 2
    assert len(students.known_sessions(mara).entries) == 1


def test_a_cut_off_session_is_replaced_by_the_whole_one(tmp_path: Path) -> None:
    """And a whole one is never replaced by a shorter one."""
    mara, sent = students.add("Mara"), saved(tmp_path)
    whole = sent.read_bytes()
    short = tmp_path / "short.jsonl"
    short.write_bytes(b"".join(whole.splitlines(keepends=True)[:-1]))
    assert students.take_in_session(mara, short).kind == "cut off"
    assert students.take_in_session(mara, sent).kind == "completed"
    assert students.take_in_session(mara, short).kind == "known"
    (entry,) = students.known_sessions(mara).entries
    assert entry.finished


def test_a_name_that_is_there_already_gets_a_number(tmp_path: Path) -> None:
    """Two sessions that were sent under one name are both kept."""
    mara, sent = students.add("Mara"), saved(tmp_path)
    students.take_in_session(mara, sent)
    kept = next(mara.recordings.iterdir())
    sent.write_bytes(sent.read_bytes().replace(b"Between two runs", b"Between two shows"))
    assert students.take_in_session(mara, sent).kept != kept
    assert len(students.known_sessions(mara).entries) == 2


def test_another_listed_students_session_is_refused(tmp_path: Path) -> None:
    """The label in a session says who played it; a label nobody listed has is no reason."""
    mara, ada = students.add("Mara"), students.add("Ada")
    sent = saved(tmp_path)  # played by Ada
    with pytest.raises(BadInput, match=r"Ada's; take it in for Ada"):
        students.take_in_session(mara, sent, students.load())
    assert not mara.recordings.exists()
    assert students.take_in_session(ada, sent, students.load()).kind == "new"


@pytest.mark.parametrize("content", [b"", b"\n", b"{}\n", b"\x00" * 100, b"[1,2]\n"])
def test_a_damaged_file_is_refused_and_nothing_is_written(tmp_path: Path, content: bytes) -> None:
    """The message names the file."""
    mara = students.add("Mara")
    sent = tmp_path / "sent.jsonl"
    sent.write_bytes(content)
    with pytest.raises(TrainerError, match=r"sent\.jsonl"):
        students.take_in_session(mara, sent)
    assert not mara.recordings.exists()


def test_a_damaged_file_in_a_shared_folder_hides_no_other(tmp_path: Path) -> None:
    """The whole ones beside it are counted."""
    mara = students.add("Mara", str(tmp_path))
    mara.recordings.mkdir()
    saved(mara.recordings)
    (mara.recordings / "broken.jsonl").write_bytes(b"{\n")
    assert len(students.known_sessions(mara).entries) == 1


def test_players_of_one_list_are_read_as_they_were_written(tmp_path: Path) -> None:
    """A journal with another start is another session."""
    mara = students.add("Mara")
    for hour in (18, 19):
        one = header()
        journal = Journal(tmp_path, replace(one, started=one.started.replace(hour=hour)))
        play(journal)
        journal.finish({})
    for sent in sorted(tmp_path.glob("*.jsonl")):
        assert students.take_in_session(mara, sent).kind == "new"
    assert [one.started.hour for one in students.known_sessions(mara).entries] == [18, 19]
