from __future__ import annotations

import os
from pathlib import Path

import pytest
from sessions import saved

from trainer.archive import session_lines, session_list
from trainer.archive.recovery import recover
from trainer.archive.session_list import list_sessions
from trainer.cli import run
from trainer.show.session_words import empty_session_words


def cache_file() -> Path:
    """Return the one cache file there is."""
    (path,) = (Path(os.environ["TRAINER_HOME"]) / "cache").iterdir()
    return path


def test_second_look_reads_no_session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was read once is not read again while the file is the same."""
    saved(tmp_path)
    first = list_sessions(tmp_path)
    monkeypatch.setattr(session_list, "open_session_file", None)

    assert first == list_sessions(tmp_path)
    assert len(first.entries) == 1


def test_changed_file_is_read_again(tmp_path: Path) -> None:
    """A file that changed since is read again."""
    path = saved(tmp_path)
    assert list_sessions(tmp_path).entries[0].finished

    path.write_bytes(path.read_bytes()[:-1])

    assert not list_sessions(tmp_path).entries[0].finished


def test_deleted_file_leaves_the_cache(tmp_path: Path) -> None:
    """A session that is gone is listed no more, and forgotten."""
    saved(tmp_path).unlink()

    assert list_sessions(tmp_path).entries == ()
    saved(tmp_path)
    list_sessions(tmp_path)
    assert b"20260301" in cache_file().read_bytes()
    next(tmp_path.glob("*.jsonl")).unlink()
    list_sessions(tmp_path)
    assert b"20260301" not in cache_file().read_bytes()


@pytest.mark.parametrize(
    "junk",
    [
        b"",
        b"null",
        b"[]",
        b"[" * 100_000,
        b'{"version": 3, "files": 3}',
        b'{"version": 99, "files": {"x": 1}}',
        b'{"version": 3, "files": {"x": NaN}}',
        b"\xff",
    ],
)
def test_cache_can_be_thrown_away(tmp_path: Path, junk: bytes) -> None:
    """Whatever is in the cache, the sessions are listed from their own files."""
    saved(tmp_path)
    first = list_sessions(tmp_path)
    cache_file().write_bytes(junk)

    assert first == list_sessions(tmp_path)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('"seconds":3.0', '"seconds":"x"'),
        ('"started":"2026', '"started":"today'),
        ("[120.0,true]", "[[]]"),
        ('"spread_ms"', '"spread"'),
        ('"finished"', '"finish"'),
    ],
)
def test_wrong_values_in_the_cache_are_read_again(tmp_path: Path, right: str, wrong: str) -> None:
    """A digest that this program would not write is put right from the session file."""
    saved(tmp_path)
    first = list_sessions(tmp_path)
    text = cache_file().read_text()
    assert right in text
    cache_file().write_text(text.replace(right, wrong))

    assert first == list_sessions(tmp_path)
    assert text == cache_file().read_text()


def test_no_place_for_the_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a place to write the cache, the list is the same."""
    monkeypatch.setenv("TRAINER_HOME", "/dev/null/nowhere")
    saved(tmp_path)

    assert len(list_sessions(tmp_path).entries) == 1


def test_long_last_line(tmp_path: Path) -> None:
    """A summary longer than the first look at the end is read in full."""
    path = saved(tmp_path)
    text = path.read_text().replace('"summary":{', '"summary":{"pad":"' + "x" * 100_000 + '",')
    path.write_text(text)

    assert list_sessions(tmp_path).entries[0].finished


BIG = b"9" * 400


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        (b'"player":"Ada"', b'"player":' + BIG, "player: must be a text"),
        (b'"passes":2', b'"passes":' + BIG, "passes: must be a whole number"),
        (b'"seconds":3.0', b'"seconds":' + BIG, "seconds: must be a number"),
        (
            b'"hits":{"played":32}',
            b'"offset":{"mean":{"value":%b}}' % BIG,
            "summary, offset.mean.value: has a number",
        ),
        (b'"summary":{', b'"summary":{"x":%b,' % (BIG * 20), "summary: has a whole number"),
        (b'"version":1', b'"version":' + BIG, "format version 999999999"),
    ],
)
def test_one_faulty_session_spoils_no_other(
    tmp_path: Path, old: bytes, new: bytes, place: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A number of hundreds of digits is a fault of its own file: named, and the rest is listed."""
    folder = tmp_path / "recordings"
    path = saved(folder)
    bad = folder / "bad.jsonl"
    bad.write_bytes(path.read_bytes().replace(old, new, 1))
    assert bad.read_bytes() != path.read_bytes()

    listing = list_sessions(folder)
    assert [one.path for one in listing.entries] == [path]
    assert [place in str(fault) for fault in listing.faults] == [True]
    assert recover(folder) == []
    for words in (["history"], ["advice"], ["replay", "--plain"]):
        assert run([*words, "--recordings", str(folder)]) == 0
    assert str(bad) in capsys.readouterr().err


def test_a_file_that_could_not_be_read_is_looked_at_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A failed read is not remembered: once its cause is gone, the session is there."""
    path = saved(tmp_path)

    def refused(_: Path) -> None:
        raise PermissionError(13, "not yours")

    with monkeypatch.context() as patched:
        patched.setattr(session_list, "open_session_file", refused)
        (fault,) = list_sessions(tmp_path).faults
        assert str(fault).startswith(f"{path}: the file cannot be read")
    with monkeypatch.context() as patched:
        patched.setattr(session_lines, "VERSION", 0)
        (fault,) = list_sessions(tmp_path).faults
        assert "install the newer program" in str(fault)

    assert [one.path for one in list_sessions(tmp_path).entries] == [path]


def test_a_session_of_one_line_is_cut_off(tmp_path: Path) -> None:
    """A file that holds its header alone is listed as one that was cut off."""
    path = saved(tmp_path)
    path.write_bytes(path.read_bytes().splitlines(keepends=True)[0])

    (entry,) = list_sessions(tmp_path).entries
    assert not entry.finished
    assert empty_session_words(entry) == "still running, or cut off"


@pytest.mark.skipif(os.name == "nt", reason="pipes of Unix systems")
@pytest.mark.parametrize("kind", ["pipe", "folder", "endless", "gone", "other types"])
def test_a_cache_that_is_no_file(tmp_path: Path, kind: str) -> None:
    """What lies in the cache's place is neither waited for nor replaced; the list is the same."""
    saved(tmp_path)
    first = list_sessions(tmp_path)
    path = cache_file()
    path.unlink()
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    elif kind == "other types":
        path.write_text('{"version": true, "files": {"a": [[], {}, null]}}')
    else:
        path.symlink_to("/dev/zero" if kind == "endless" else tmp_path / "gone")

    assert first == list_sessions(tmp_path)
    assert path.is_fifo() == (kind == "pipe")
    assert path.is_dir() == (kind == "folder")


def test_a_folder_whose_name_is_not_of_letters(tmp_path: Path) -> None:
    """Bytes that are no UTF-8 in a folder's name: its sessions are listed, every time."""
    folder = tmp_path / os.fsdecode(b"drums-\xff")
    try:
        folder.mkdir()
    except OSError:
        pytest.skip("this disk takes no such name")
    saved(folder)
    assert len(list_sessions(folder).entries) == len(list_sessions(folder).entries) == 1
