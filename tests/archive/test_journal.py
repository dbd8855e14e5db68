from __future__ import annotations

import os
import random
import resource
import shutil
import subprocess
import sys
import threading
import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from disks import small_disk
from patience import LIMIT_S, until
from sessions import header, play

from trainer.archive import journal as journal_module
from trainer.archive.journal import Journal
from trainer.archive.journal_file import JournalFile, session_file_name
from trainer.archive.recovery import recover
from trainer.archive.session import RungResult
from trainer.archive.session_file import open_session
from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.practice.course import Pass

WRITER = Path(__file__).with_name("writing_process.py")
SAME_MODULES = {"PYTHONPATH": os.pathsep.join(sys.path)}
PROMISED_S = 0.050


def start(folder: Path, rate: float, count: int | None = None) -> subprocess.Popen[bytes]:
    """Start a process that plays into a journal."""
    args = [sys.executable, str(WRITER), str(folder), str(rate)]
    args += [str(count)] if count else []
    return subprocess.Popen(args, stdout=subprocess.PIPE, env=os.environ | SAME_MODULES)


@pytest.mark.parametrize("seed", range(4))
def test_killed_process_loses_the_last_moment_at_most(tmp_path: Path, seed: int) -> None:
    """After kill -9 every strike but those of the last 50 ms is on disk, and recovery finishes.

    Where the machine held the process up, the strikes of as much time more may be lost.
    """
    rng = random.Random(seed)
    rate = rng.choice([20, 200, 1000])
    process = start(tmp_path, rate)
    assert process.stdout
    process.stdout.readline()
    time.sleep(rng.uniform(0.05, 1.5))
    killed_at = time.monotonic()
    process.kill()
    rows = [line.split() for line in process.stdout.read().splitlines()]
    process.wait()
    handed_over = [float(row[1]) for row in rows if len(row) == 2]
    held_s = max((later - one - 1 / rate for one, later in pairwise(handed_over)), default=0.0)

    (found,) = recover(tmp_path)

    kept = len(open_session(found.path).strikes)
    sure = [at for at in handed_over if at < killed_at - PROMISED_S - held_s]
    assert kept >= 1 + len(sure)
    assert len(found.session.strikes) == kept
    assert open_session(found.path).recovered


def test_two_processes_on_one_folder(tmp_path: Path) -> None:
    """Two sessions of one pattern begun in the same second are both whole."""
    both = [start(tmp_path, 2000, 300), start(tmp_path, 2000, 300)]
    for process in both:
        process.communicate(timeout=LIMIT_S)

    sessions = [open_session(path) for path in sorted(tmp_path.glob("*.jsonl"))]

    assert [len(one.strikes) for one in sessions] == [300, 300]
    assert [one.summary for one in sessions] == [{"strikes": 300}] * 2


def test_recovery_while_another_process_writes(tmp_path: Path) -> None:
    """Recovery leaves alone what a living process is writing, and the session ends whole."""
    process = start(tmp_path, 1000, 600)
    assert process.stdout
    process.stdout.readline()

    assert recover(tmp_path) == []

    process.communicate(timeout=LIMIT_S)
    (path,) = tmp_path.glob("*.jsonl")
    assert len(open_session(path).strikes) == 600
    assert not open_session(path).recovered


def limit_file_size() -> None:
    """Let no file of this process grow beyond 8 KiB."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192))


def test_file_that_may_not_grow(tmp_path: Path) -> None:
    """A process whose files may not grow reports it once, and plays to its end."""
    process = subprocess.run(
        [sys.executable, str(WRITER), str(tmp_path), "5000", "600"],
        stdout=subprocess.PIPE,
        preexec_fn=limit_file_size,
        check=True,
        env=os.environ | SAME_MODULES | {"HOME": str(tmp_path)},
    )
    lines = process.stdout.decode().splitlines()
    news = [line for line in lines if line.startswith("news")]

    assert "599" in lines[-4].split()[0]
    assert "the file has reached its size limit" in news[0]
    assert "could be saved nowhere in full" in news[1]
    assert len(news) == 2


def fill(journal: Journal, count: int, first: int = 0) -> None:
    """Write passes of sixteen strikes, as quickly as it goes."""
    for number in range(first, first + count):
        if number % 16 == 0:
            journal.pass_started(Pass(number // 16, 120.0, 2.0 * (number // 16)))
        journal.strike(Strike(number * 0.125, 38, 100))


def settle(journal: Journal) -> list[str]:
    """Wait until the helper thread has something to report."""

    def write_on() -> None:
        journal.rung(RungResult(0, 120.0, True))
        time.sleep(0.02)

    return until(journal.news, "a word about the disk", write_on)


def test_full_disk(tmp_path: Path) -> None:
    """On a full disk the player reads it once, plays on, and the session is whole elsewhere."""
    with small_disk(tmp_path / "full", "size=16k") as folder:
        journal = Journal(folder, header(), elsewhere=[tmp_path / "spare"])
        fill(journal, 1600)
        news = settle(journal)
        fill(journal, 160, first=1600)
        path = journal.finish({"ok": 1})

        assert "the disk is full. Playing continues" in news[0]
        assert path
        assert path.parent == tmp_path / "spare"
        assert [f"The session is saved in another place: {path}"] == journal.news()
        assert list(folder.iterdir()) == []
    assert len(open_session(path).strikes) == 1760
    assert open_session(path).summary == {"ok": 1}


def test_disk_that_has_room_again(tmp_path: Path) -> None:
    """When there is room again the same file goes on where it stopped."""
    with small_disk(tmp_path / "full", "size=64k") as folder:
        (folder / "ballast").write_bytes(bytes(40_960))
        journal = Journal(folder, header())
        fill(journal, 1600)
        settle(journal)
        (folder / "ballast").unlink()
        path = journal.finish({})

        assert path
        assert path.parent == folder
        assert len(open_session(path).strikes) == 1600
        assert journal.news() == []


def test_read_only_disk(tmp_path: Path) -> None:
    """Where no file can be made at all the session is kept in memory and saved elsewhere."""
    with small_disk(tmp_path / "locked", "ro") as folder:
        journal = Journal(folder, header(), elsewhere=[tmp_path / "spare"])
        assert journal.path is None
        assert "the disk is read-only" in journal.news()[0]

        played = play(journal)
        path = journal.finish({})

    assert path
    assert tuple(played) == open_session(path).strikes


def test_folder_gone(tmp_path: Path) -> None:
    """When the folder is deleted while playing, the whole session is saved elsewhere."""
    folder = tmp_path / "recordings"
    journal = Journal(folder, header(), elsewhere=[tmp_path / "spare"])
    fill(journal, 160)
    shutil.rmtree(folder)
    news = settle(journal)
    path = journal.finish({})

    assert "the folder is gone" in news[0]
    assert path
    assert path.parent == tmp_path / "spare"
    assert len(open_session(path).strikes) == 160


def test_folder_that_is_a_file(tmp_path: Path) -> None:
    """A file where the folder should be is reported and survived."""
    (tmp_path / "recordings").write_text("x")
    journal = Journal(tmp_path / "recordings", header(), elsewhere=[tmp_path / "spare"])

    assert "cannot be written" in journal.news()[0]
    assert journal.finish({}) is not None


def test_player_own_folder_is_tried_first(tmp_path: Path) -> None:
    """Without folders named, a failed session goes to the player's own recordings."""
    (tmp_path / "file").write_text("x")
    journal = Journal(tmp_path / "file", header())

    assert journal.finish({}) == Path(
        os.environ["TRAINER_HOME"], "recordings", session_file_name(header())
    )


def test_disk_that_hangs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that never answers holds nothing up: the session is saved elsewhere after a while."""
    answer, in_vain = threading.Event(), []
    hanging = tmp_path / "network"
    write = JournalFile.write

    def slow(file: JournalFile, data: bytes) -> int:
        if file.path.parent == hanging:
            in_vain.append(not answer.wait(LIMIT_S))
        return write(file, data)

    journal = Journal(hanging, header(), elsewhere=[tmp_path / "spare"])
    monkeypatch.setattr(journal_module, "LONGEST_WAIT_S", 0.2)
    monkeypatch.setattr(JournalFile, "write", slow)
    fill(journal, 320)
    path = journal.finish({})
    assert not in_vain  # all that was done while the disk had yet to answer
    answer.set()

    assert path
    assert path.parent == tmp_path / "spare"
    assert len(open_session(path).strikes) == 320


def test_closing_without_an_end_leaves_it_to_recovery(tmp_path: Path) -> None:
    """A journal closed without a summary is a session that was cut off."""
    journal = Journal(tmp_path, header())
    play(journal)
    journal.close()

    assert journal.path
    assert open_session(journal.path).summary is None
    assert len(recover(tmp_path)) == 1


def test_what_could_not_be_read_again_is_not_begun(tmp_path: Path) -> None:
    """A header beyond the bounds of reading is refused before anything is played or made."""
    with pytest.raises(BadInput, match="player: must be a text of at most 2000 characters"):
        Journal(tmp_path / "none", header(player="x" * 5000))

    assert not (tmp_path / "none").exists()


def test_finishing_twice_changes_nothing(tmp_path: Path) -> None:
    """A second end is ignored."""
    journal = Journal(tmp_path, header())

    assert journal.finish({"a": 1}) == journal.finish({"a": 2})
    assert journal.path
    assert open_session(journal.path).summary == {"a": 1}


@pytest.mark.parametrize(
    ("pattern", "name"),
    [
        ("between-runs", "20260301-183000-between-runs.jsonl"),
        ("../../etc/passwd", "20260301-183000-etc-passwd.jsonl"),
        ("\x1b[2J\nCON:|?*", "20260301-183000-2J-CON.jsonl"),
        ("ж" * 10, "20260301-183000-pattern.jsonl"),
        ("a" * 500, "20260301-183000-" + "a" * 60 + ".jsonl"),
    ],
)
def test_file_names_are_safe(tmp_path: Path, pattern: str, name: str) -> None:
    """Whatever a pattern is called, its session stays in the folder under a name all disks take."""
    one = header()
    one = replace(one, pattern=replace(one.pattern, name=pattern))

    journal = Journal(tmp_path, one)
    path = journal.finish({})

    assert path == tmp_path / name
    assert open_session(path).pattern.name == pattern
