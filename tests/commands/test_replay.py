from __future__ import annotations

import json
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from sessions import header, play, saved

from trainer import cli
from trainer.actions.replay import FolderShelf, ReplayRequest, ReplayStep, picture_stem
from trainer.archive.journal import Journal
from trainer.archive.session_file import open_session
from trainer.archive.summary import judge_session, session_summary
from trainer.file_system import shipped_folder
from trainer.settings import recordings_folder
from trainer.show.session_words import day_words

if TYPE_CHECKING:
    from pathlib import Path


def finished() -> Path:
    """Save a session with its true summary where the program looks for sessions."""
    journal = Journal(recordings_folder(), header())
    play(journal)
    path = journal.finish(session_summary(journal.session()))
    assert path
    return path


def saved_as(folder: Path, name: str) -> None:
    """Save a session of a pattern of another name."""
    journal = Journal(folder, header(name))
    play(journal)
    journal.finish({})


def as_json(capsys: pytest.CaptureFixture[str], *args: str) -> Any:
    """Run the command and return its document."""
    assert cli.run(["replay", "--json", *args]) == 0
    return json.loads(capsys.readouterr().out)


def test_json_is_the_take_and_its_summary(capsys: pytest.CaptureFixture[str]) -> None:
    """The document holds every stroke, bit for bit what judging gives, and the saved summary."""
    path = finished()
    session = open_session(path)

    document = as_json(capsys)

    assert [hit["time_s"] for hit in document["hits"]] == [s.time_s for s in session.strikes]
    take = judge_session(session)
    assert [one["outcome"] for one in document["targets"]] == list(take.target_outcome)
    assert session.summary == document["summary"]
    assert document["differs"] == []
    assert document["session"] == path.name
    assert document["player"] == "Ada"


@pytest.mark.parametrize("name", [None, "between", "20260301-183000-between-runs"])
def test_session_by_part_of_its_name(capsys: pytest.CaptureFixture[str], name: str | None) -> None:
    """A session is found as the newest, by a part of its name, or by the whole of it."""
    path = finished()

    assert as_json(capsys, *([name] if name else []))["session"] == path.name


def test_session_by_path(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A path names a session anywhere."""
    path = saved(tmp_path / "usb")

    assert as_json(capsys, str(path))["session"] == path.name


def test_text_shows_the_session(capsys: pytest.CaptureFixture[str]) -> None:
    """Without --json the session is said in lines: what, who, when, how it went."""
    finished()

    assert cli.run(["replay", "--plain"]) == 0

    out, err = capsys.readouterr()
    assert out.startswith(
        f"{day_words(date(2026, 3, 1))}, 18:30, Ada, on General MIDI percussion.\n"
    )
    assert "Played for 3 seconds." in out
    assert "Rung 2, 120 BPM, not clean: late." in out
    assert "At 6.5 s kit unplugged (the kit is gone)." in out
    assert err == ""


def test_changed_summary_is_reported(capsys: pytest.CaptureFixture[str]) -> None:
    """When the saved numbers are not what judging gives now, the player is told."""
    path = finished()
    text = path.read_text()
    played = f'"played":{json.loads(text.splitlines()[-1])["summary"]["counts"]["played"]}'
    path.write_text(text.replace(played, '"played":7'))

    assert cli.run(["replay", "--plain"]) == 0
    assert "1 numbers differ" in capsys.readouterr().err
    assert as_json(capsys)["differs"] == ["counts.played"]


def test_cut_off_session_is_finished_first(capsys: pytest.CaptureFixture[str]) -> None:
    """The newest session, when it was cut off, is finished and reported, then shown."""
    path = finished()
    path.write_bytes(path.read_bytes()[:-9])

    assert as_json(capsys)["recovered"]
    assert open_session(path).recovered


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ([], "there is no session yet; play one first, or look at an example"),
        (["nothing-like-it"], 'there is no session "nothing-like-it"'),
        (["/dev/zero"], "this is not a file"),
        (["."], "this is not a file"),
    ],
)
def test_bad_names_are_reported(
    capsys: pytest.CaptureFixture[str], args: list[str], words: str
) -> None:
    """A session that is not there, or is no file, is one plain sentence and status 2."""
    assert cli.run(["replay", "--plain", *args]) == 2

    out, err = capsys.readouterr()
    assert words in err
    assert out == ""


def test_ambiguous_name_lists_what_fits(capsys: pytest.CaptureFixture[str]) -> None:
    """A part of a name that fits several sessions is an error that lists them."""
    finished()
    finished()

    assert cli.run(["replay", "between"]) == 2
    assert '"between" fits 2 sessions; choose one of' in capsys.readouterr().err


def test_hostile_texts_do_not_reach_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Escape sequences in a session file are shown as marks, in text and in JSON."""
    path = finished()
    path.write_text(path.read_text().replace('"Ada"', '"\\u001b[2J\\u009b2J\\ud800"'))

    assert cli.run(["replay", "--plain"]) == 0
    assert cli.run(["replay", "--json"]) == 0

    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "\x9b" not in out
    assert "<?>[2J" in out


@pytest.mark.parametrize("name", ["example-orders", "example-odd-numbers", "example-ladder"])
def test_examples_come_along(capsys: pytest.CaptureFixture[str], name: str) -> None:
    """The example sessions that ship with the program are found by name, whole, and judged."""
    document = as_json(capsys, name)

    assert document["finished"]
    assert len(document["hits"]) > 400
    assert document["summary"]["counts"]["played"] > 400
    assert bool(document["rungs"]) == (name == "example-ladder")


def test_pictures_of_map_and_summary(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Both are drawn in one go and reported; a wrong ending draws neither."""
    finished()
    chart, words = tmp_path / "map.svg", tmp_path / "summary.svg"

    assert cli.run(["replay", "--svg", str(chart), "--summary-svg", str(words)]) == 0
    assert capsys.readouterr().out == f"written: {chart}\nwritten: {words}\n"
    assert "Hit map: Between two runs" in chart.read_text()
    assert "24 strokes: " in words.read_text()

    chart.unlink()
    bad = str(tmp_path / "summary.png")
    assert cli.run(["replay", "--svg", str(chart), "--summary-svg", bad]) == 2
    assert not chart.exists()


def test_the_map_in_words_and_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    """Every cell is reported, of the whole session, of one rung, and with rows by limb."""
    finished()

    assert cli.run(["replay", "--map"]) == 0
    out = capsys.readouterr().out
    assert "Counted: whole session, 120 BPM." in out
    assert "\nsnare, bar 1, beat 1  snare RH   0 early, 2 on time, 0 late\n  2 due, " in out

    assert cli.run(["replay", "--map", "--rung", "2", "--limbs"]) == 0
    out = capsys.readouterr().out
    assert "Counted: rung 2 of 2 alone, 120 BPM." in out
    assert "\nright hand, bar 1, beat 1  snare RH   0 early, 1 on time, 0 late\n  1 due, " in out

    reported = as_json(capsys, "--map", "--pass", "1")["map"]
    assert (reported["counted"], reported["over"]) == ("pass 1 of 2 alone, 120 BPM", None)
    assert [one["due"] for one in reported["cells"] if one["due"]] == [1] * 16


def test_one_session_over_another(capsys: pytest.CaptureFixture[str]) -> None:
    """Laid over itself nothing differs, in text and in JSON."""
    path = finished()

    assert cli.run(["replay", "--plain", "--over", path.stem]) == 0
    out = capsys.readouterr().out
    assert f"Counted: whole session, 120 BPM, over {path.stem} (all of it)." in out
    assert " no different" in out

    cells = as_json(capsys, "--over", path.stem)["map"]["cells"]
    assert {one["change"]["faults"]["value"] for one in cells if one["due"]} == {0.0}


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--rung", "3"], "there is no rung 3; choose 1 to 2"),
        (["--pass", "0"], "there is no pass 0; choose 1 to 2"),
        (["--over", "nothing-like-it"], 'there is no session "nothing-like-it"'),
        (["--over", "example-orders"], "the other session has another pattern"),
    ],
)
def test_what_is_not_there_is_reported(
    capsys: pytest.CaptureFixture[str], args: list[str], words: str
) -> None:
    """A rung, a pass or another session that cannot be had is a sentence and status 2."""
    finished()

    assert cli.run(["replay", "--plain", *args]) == 2
    assert words in capsys.readouterr().err


def test_pictures_of_an_example_go_to_the_players_folder() -> None:
    """Nothing is put into the installation; other pictures lie beside their session."""
    example = shipped_folder("recordings") / "example-orders.jsonl"
    assert picture_stem(example) == recordings_folder() / "example-orders"
    assert picture_stem(recordings_folder() / "a.jsonl") == recordings_folder() / "a"


def test_others_are_the_sessions_of_the_same_pattern() -> None:
    """Not the session itself, and none of another pattern."""
    path, other = finished(), finished()
    saved_as(recordings_folder(), "another-pattern")
    shelf = FolderShelf(ReplayRequest(recordings_folder(), str(path)))
    steps: list[ReplayStep] = []

    opened = shelf.open(steps.append)

    assert [one.path for one in shelf.others(opened)] == [other]
    assert [step.kind for step in steps] == ["search", "read", "judge", "measure"]
    assert shelf.judged(other).target_outcome == opened.take.target_outcome


def test_a_session_without_a_pass_has_no_map(capsys: pytest.CaptureFixture[str]) -> None:
    """Asked for its map, the program says why there is none; its summary is there."""
    Journal(recordings_folder(), header()).finish({})

    assert cli.run(["replay", "--plain"]) == 0
    assert cli.run(["replay", "--map"]) == 2
    assert cli.run(["replay", "--plain", "--pass", "1"]) == 2
    assert capsys.readouterr().err.count("no written stroke was played in this session") == 2
