from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING

import pytest

from trainer.errors import BadInput, Failure
from trainer.file_system import is_file, read_bytes, read_text, replace_file, write_file

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    """Make a pipe that nobody writes into."""
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    path = tmp_path / "pipe"
    os.mkfifo(path)
    return path


def test_what_is_written_is_read_again(tmp_path: Path) -> None:
    """A file and the folder it lies in appear with the text that was given."""
    path = tmp_path / "new" / "groove.toml"
    write_file(path, "é".encode(), own=True)

    assert read_text(path, 2) == "é"
    assert os.listdir(path.parent) == ["groove.toml"]


def test_a_new_file_has_the_rights_of_any_new_file(tmp_path: Path) -> None:
    """Others may read what the player's mask lets them read."""
    plain = tmp_path / "plain"
    plain.write_bytes(b"")
    write_file(tmp_path / "ours", b"")

    assert (tmp_path / "ours").stat().st_mode == plain.stat().st_mode


def test_a_replaced_file_keeps_its_rights(tmp_path: Path) -> None:
    """Writing again does not open a file to others, nor close it."""
    path = tmp_path / "secret"
    path.write_bytes(b"old")
    path.chmod(0o600)
    write_file(path, b"new")

    assert (stat.S_IMODE(path.stat().st_mode), path.read_bytes()) == (0o600, b"new")


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    """A file that is kept elsewhere and linked is written where it is kept."""
    real, link = tmp_path / "kept" / "goals.toml", tmp_path / "goals.toml"
    write_file(real, b"old", own=True)
    link.symlink_to(real)
    write_file(link, b"new")

    assert link.is_symlink()
    assert real.read_bytes() == b"new"


def test_what_is_no_plain_file_is_never_replaced(pipe: Path, tmp_path: Path) -> None:
    """A pipe or a device that is named as output is still there afterwards."""
    with pytest.raises(BadInput, match="not a plain file"):
        write_file(pipe, b"x")

    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert os.listdir(tmp_path) == ["pipe"]


def test_nothing_waits_for_a_pipe(pipe: Path) -> None:
    """Reading from what is no plain file is refused at once."""
    with pytest.raises(BadInput, match="not a file"):
        read_bytes(pipe, 10)


def test_a_failed_write_leaves_the_old_file(tmp_path: Path, monkeypatch) -> None:
    """Where the disk refuses half-way the old content stands, and nothing lies beside it."""
    path = tmp_path / "kit.toml"
    path.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("trainer.file_system.sync_file", full)
    with pytest.raises(OSError, match="No space"):
        replace_file(path, b"new")
    with pytest.raises(Failure, match="the disk is full; choose another place"):
        write_file(path, b"new")

    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["kit.toml"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("gone", "there is no such file"),
        (".", "not a file"),
        ("x" * 300, "its name is too long"),
        ("a\0b", "the name is not allowed"),
        ("large", "larger than 1 kB"),
        ("latin", "not UTF-8 text"),
    ],
)
def test_what_cannot_be_read_is_reported_in_a_sentence(
    tmp_path: Path, name: str, words: str
) -> None:
    """Whatever a name leads to, the answer is bad input and says why."""
    (tmp_path / "large").write_bytes(b"x" * 1025)
    (tmp_path / "latin").write_bytes(b"\xe9")

    with pytest.raises(BadInput, match=words):
        read_text(tmp_path / name, 1024)


def test_a_folder_that_a_player_named_is_not_made(tmp_path: Path) -> None:
    """A misspelt folder is reported, not made."""
    with pytest.raises(BadInput, match="there is no such folder"):
        write_file(tmp_path / "none" / "page.svg", b"")


@pytest.mark.parametrize("name", ["x" * 300, "a\0b", "gone", "."])
def test_a_name_no_file_can_have_is_no_file(tmp_path: Path, name: str) -> None:
    """Asking after a file never raises."""
    assert not is_file(tmp_path / name)
