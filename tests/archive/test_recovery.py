from __future__ import annotations

import math
import shutil
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from sessions import header, play, saved, strikes

from trainer.archive import journal_file, recovery
from trainer.archive.journal import Journal
from trainer.archive.recovery import recover
from trainer.archive.session import RungResult, Session
from trainer.archive.session_file import open_session
from trainer.archive.summary import cut_short, judge_session, session_summary
from trainer.errors import BadInput
from trainer.practice.course import Pass
from trainer.show.session_words import recovered_words

if TYPE_CHECKING:
    from pathlib import Path


def cut_off(folder: Path, name: str = "cut.jsonl", lose: int = 1) -> Path:
    """Return a session whose last bytes never reached the disk (1 leaves its summary torn)."""
    path = saved(folder)
    shorter = folder / name
    shorter.write_bytes(path.read_bytes()[:-lose])
    path.unlink()
    return shorter


def test_cut_off_session_is_finished(tmp_path: Path) -> None:
    """A session without its last line gets the summary of what was played, and is reported."""
    path = cut_off(tmp_path)
    before = open_session(path)

    (found,) = recover(tmp_path)

    after = open_session(path)
    assert found.path == path
    assert "was cut off. It is finished now: Between two runs, 32 strokes" in recovered_words(found)
    assert after.recovered
    assert after.summary == session_summary(after)
    assert before.strikes == after.strikes
    assert not after.torn
    assert recover(tmp_path) == []


def test_recovery_may_itself_be_cut_off(tmp_path: Path) -> None:
    """Torn anywhere in what recovery wrote, the session is finished the same at the next try."""
    path = cut_off(tmp_path)
    lines = path.read_bytes().splitlines(keepends=True)[:-6]
    path.write_bytes(b"".join(lines))
    start = path.stat().st_size
    recover(tmp_path)
    whole = path.read_bytes()
    for end in range(start, len(whole), (len(whole) - start) // 23):
        path.write_bytes(whole[:end])
        recover(tmp_path)

        assert whole == path.read_bytes()


def test_session_that_is_being_written_is_left_alone(tmp_path: Path) -> None:
    """A file another journal holds is not touched, whatever it looks like."""
    journal = Journal(tmp_path, header())
    play(journal)

    assert recover(tmp_path) == []

    path = journal.finish({})
    assert path is not None
    assert open_session(path).summary == {}


def test_without_locks_a_fresh_file_counts_as_in_use(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the disk knows no locks, only a file that has rested for minutes is finished."""
    monkeypatch.setattr(journal_file, "lock_file", lambda fd: journal_file.FileLock.UNKNOWN)
    changed = cut_off(tmp_path).stat().st_mtime

    assert recover(tmp_path, clock=lambda: changed + recovery.IN_USE_S - 1) == []
    assert len(recover(tmp_path, clock=lambda: changed + recovery.IN_USE_S + 1)) == 1


def test_links_and_strangers_are_left_alone(tmp_path: Path) -> None:
    """Recovery writes through no link, and leaves files it cannot read as they are."""
    outside = cut_off(tmp_path)
    folder = tmp_path / "recordings"
    folder.mkdir()
    (folder / "link.jsonl").symlink_to(outside)
    (folder / "noise.jsonl").write_bytes(b"\x00\xff\n")
    (folder / "folder.jsonl").mkdir()
    before = outside.read_bytes()

    assert recover(folder) == []
    assert before == outside.read_bytes()
    assert (folder / "noise.jsonl").read_bytes() == b"\x00\xff\n"


def test_read_only_folder_is_no_failure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing can be written, recovery gives way in silence; the session can be read."""

    def refuse(_: Path) -> int:
        raise PermissionError

    cut_off(tmp_path)
    monkeypatch.setattr(journal_file, "open_for_fixing", refuse)

    assert recover(tmp_path) == []


def test_missing_folder_has_nothing_to_finish(tmp_path: Path) -> None:
    """A folder that does not exist yet is an empty one."""
    assert recover(tmp_path / "none") == []


def session(count: int, **more: object) -> Session:
    """Return an unfinished session of one pass at 120 BPM with its first strokes."""
    one = Session(header(), (Pass(0, 120.0, 2.0),), tuple(strikes(2.0, count)))
    return replace(one, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("count", [0, 1, 7, 16])
def test_judged_up_to_the_last_stroke(count: int) -> None:
    """Strokes due after the last one that was heard are not asked for."""
    take = judge_session(cut_short(session(count)))

    assert [count, count] == [len(take.targets), take.target_outcome.count("played")]


def test_an_early_last_stroke_keeps_its_target() -> None:
    """A last stroke ahead of its target is still matched to it."""
    early = [replace(one, time_s=one.time_s - 0.02) for one in strikes(2.0, 5)]

    take = judge_session(cut_short(session(5, strikes=tuple(early))))

    assert list(take.target_outcome) == ["played"] * 5
    assert list(take.hit_target) == [0, 1, 2, 3, 4]


def test_a_pass_that_was_over_is_judged_whole() -> None:
    """When something later proves that the pass had ended, its missing strokes were missed."""
    over = session(5, rungs=(RungResult(0, 120.0, False, (), 4.5),))

    assert cut_short(over) == over
    assert judge_session(cut_short(over)).target_outcome.count("missed") == 11


def test_a_finished_session_is_never_cut_short() -> None:
    """A session with its summary is judged as it was saved."""
    done = session(3, summary={})

    assert done is cut_short(done)


def test_cut_lies_just_behind_the_last_stroke() -> None:
    """The cut falls between the last stroke and the very next moment."""
    cut = cut_short(session(7)).passes[0].end_s

    assert cut == math.nextafter(strikes(2.0, 7)[-1].time_s, math.inf)


def test_two_copies_are_finished_alike(tmp_path: Path) -> None:
    """Recovery depends on the file alone."""
    first = cut_off(tmp_path, "a.jsonl", lose=300)
    second = tmp_path / "b.jsonl"
    shutil.copy(first, second)

    assert [first, second] == sorted(one.path for one in recover(tmp_path))
    assert first.read_bytes() == second.read_bytes()


def test_a_cut_off_session_with_a_fault_is_named(tmp_path: Path) -> None:
    """A faulty line in one file is said, that file is left alone, and the others are finished."""
    good = cut_off(tmp_path / "one")
    bad = tmp_path / "one" / "bad.jsonl"
    whole = good.read_bytes()
    bad.write_bytes(whole.replace(b'"tempo":120.0', b'"tempo":' + b"9" * 400, 1))
    before = bad.read_bytes()

    found = recover(tmp_path / "one")

    assert before == bad.read_bytes() != whole
    assert [one.path for one in found if isinstance(one, recovery.Recovered)] == [good]
    (fault,) = (str(one) for one in found if isinstance(one, BadInput))
    assert fault.startswith(f"{bad}, line ")
    assert "tempo: must be a number from 20 to 400" in fault
