"""Exports, pages and pictures: nothing of the player's own is replaced by one."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from trainer import cli
from trainer.archive.session_list import list_sessions
from trainer.file_system import user_folder
from trainer.pattern import library
from trainer.results import save_result

OWN = "this is mine"


def _run(*words: object) -> None:
    assert cli.run([str(word) for word in words]) == 0


def test_the_source_of_a_page_stays(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The MusicXML beside a page is the file it was made from: it goes beside that."""
    song = tmp_path / "song.musicxml"
    _run("sheet", "flam", "-o", song)
    before = song.read_text()
    capsys.readouterr()

    _run("sheet", song, "single-paradiddle", "-o", tmp_path / "song.html")

    assert song.read_text() == before
    assert (tmp_path / "song-2.musicxml").read_text() != before
    said = capsys.readouterr().out
    assert "song-2.musicxml (song.musicxml was there already and is kept)" in said


@pytest.mark.parametrize("ending", [".mid", ".musicxml", ".txt"])
def test_the_source_of_an_export_stays(ending: str, tmp_path: Path) -> None:
    """An export never replaces what it is made from, by any of its names."""
    take = tmp_path / f"take{ending}"
    _run("patterns", "export", "flam", "-o", take)
    before = take.read_bytes()
    link = tmp_path / f"link{ending}"
    link.symlink_to(take)

    for target in (take, link, Path(os.path.relpath(take))):
        _run("patterns", "export", take, "--tempo", "77", "-o", target)

    assert take.read_bytes() == before
    assert link.is_symlink()
    assert b"".join(path.read_bytes() for path in tmp_path.glob(f"take-[2-9]{ending}"))


def _results(folder: Path) -> list[list[str]]:
    session = str(list_sessions(user_folder("recordings")).entries[0].path)
    return [
        ["sheet", "flam", "-o", str(folder / "week.svg")],
        ["sheet", "flam", "-o", str(folder / "week.musicxml")],
        ["patterns", "export", "flam", "-o", str(folder / "take.mid")],
        ["history", "--svg", str(folder / "history.svg")],
        ["replay", session, "--svg", str(folder / "map.svg")],
        ["replay", session, "--summary-svg", str(folder / "summary.svg")],
        ["timing", "--json", "--seconds", "1", "--report", str(folder / "report.json")],
    ]


@pytest.mark.parametrize("number", range(7))
def test_a_file_of_that_name_is_kept(number: int, tmp_path: Path) -> None:
    """What the program did not write gets company; its own last result is replaced."""
    _run("play", "flam", "--port", "simulated", "--fast", "--passes", "1")
    words = _results(tmp_path)[number]
    path = Path(words[-1])
    path.write_text(OWN)

    _run(*words)
    assert path.read_text() == OWN
    beside = path.with_stem(f"{path.stem}-2")
    assert beside.stat().st_size > 100

    path.unlink()
    for _ in range(2):
        _run(*words)
    assert path.read_bytes() != OWN.encode()
    assert not path.with_stem(f"{path.stem}-3").exists()


def test_a_result_that_was_changed_since_is_the_players(tmp_path: Path) -> None:
    """Whoever edits an export keeps the edit; without its memory the program keeps every file."""
    path = tmp_path / "groove.txt"
    assert save_result(path, "one") == path
    assert save_result(path, "two") == path
    path.write_text("two, and a note of mine")
    assert save_result(path, "three") == tmp_path / "groove-2.txt"
    (user_folder("cache") / "results.json").write_text("[]")
    assert save_result(tmp_path / "groove-2.txt", "four") == tmp_path / "groove-2-2.txt"
    assert save_result(tmp_path / "groove-2.txt", "three") == tmp_path / "groove-2.txt"
    assert path.read_text() == "two, and a note of mine"


def test_the_kept_files_are_named_by_inputs_with_changes(tmp_path: Path) -> None:
    """The source is found behind changes too."""
    mine = tmp_path / "mine.toml"
    mine.write_text('hands = "RLRR LRLL"')
    assert library.pattern_file(f"{mine} feet=samba") == mine


@pytest.mark.skipif(os.name == "nt", reason="rights of Unix systems")
def test_own_files_are_for_the_player_alone(tmp_path: Path) -> None:
    """What the program keeps nobody else reads, whatever the umask; a result is as any file."""
    before = os.umask(0)
    try:
        _run("play", "flam", "--port", "simulated", "--fast", "--passes", "1")
        _run("advice")
        _run("goal", "add", "x", "--tempo", "100")
        _run("patterns", "make", "--sticking", "RL", "--save", "mine")
        _run("patterns", "export", "flam", "-o", tmp_path / "take.mid")
        _run("history")
    finally:
        os.umask(before)

    home = Path(os.environ["TRAINER_HOME"])
    kept = [home, *home.rglob("*")]
    assert len(kept) > 6
    rights = {path.relative_to(home): path.stat().st_mode & 0o777 for path in kept}
    assert {one for one, mode in rights.items() if mode & 0o077} == set()
    assert (tmp_path / "take.mid").stat().st_mode & 0o777 == 0o666


def test_drills_of_two_sessions_are_two(tmp_path: Path) -> None:
    """A drill never replaces one with another text; the same drill is written once."""
    mine = tmp_path / "home" / "patterns" / "drill-left-hand.toml"
    texts = ['title = "slow"\nhands = "RL"\n', 'title = "fast"\nhands = "RL"\n']
    names = [library.save_beside("drill-left-hand", text) for text in [*texts, *texts]]

    assert names == ["drill-left-hand", "drill-left-hand-2"] * 2
    assert mine.read_text() == texts[0]


def test_advice_keeps_what_a_drill_was_made_into(capsys: pytest.CaptureFixture[str]) -> None:
    """A drill that the player has changed stays when another session gives the same advice."""
    _run("demo", "--fast", "--seed", "4")
    _run("advice")
    folder = user_folder("patterns")
    drills = sorted(folder.glob("drill-*.toml"))
    assert drills
    for path in drills:
        path.write_text("# my own words\n" + path.read_text())
    before = {path: path.read_bytes() for path in drills}
    _run("advice")

    assert {path: path.read_bytes() for path in drills} == before
    assert len([*folder.glob("drill-*.toml")]) == 2 * len(drills)
    assert f"trainer play {drills[0].stem}-2" in capsys.readouterr().out


def test_a_kit_that_was_received_does_not_become_mine(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A latency is set in a kit of the player's, never from a file elsewhere under its name."""
    kits = user_folder("kits")
    kits.mkdir(parents=True)
    (kits / "room.toml").write_text('title = "Mine"\nlatency_ms = 3\n')
    received = tmp_path / "room.toml"
    received.write_text('title = "Theirs"\n')

    for words in (["--set", "6"], ["--keep"]):
        assert cli.run(["kit", "latency", str(received), *words]) == 2
        assert "this kit is not in your kits folder" in capsys.readouterr().err
    assert (kits / "room.toml").read_text() == 'title = "Mine"\nlatency_ms = 3\n'
    assert cli.run(["kit", "latency", str(kits / "room.toml"), "--set", "6"]) == 0
    assert (kits / "room.toml").read_text() == 'title = "Mine"\nlatency_ms = 6\n'
