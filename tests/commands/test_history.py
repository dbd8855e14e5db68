from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from sessions import STARTED, header, play

from trainer import cli
from trainer.archive.history import MEASURES
from trainer.archive.journal import Journal
from trainer.archive.session_file import open_session
from trainer.archive.session_list import FIGURES
from trainer.archive.summary import session_summary
from trainer.practice.course import Pass
from trainer.settings import recordings_folder
from trainer.show.session_words import TREND_WORDS, day_words

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def finished(name: str = "between-runs", days: int = 0, player: str = "Ada") -> Path:
    """Save a session of a pattern, some days after the first one."""
    start = STARTED + timedelta(days=days)
    journal = Journal(recordings_folder(), replace(header(name, player), started=start))
    play(journal)
    path = journal.finish(session_summary(journal.session()))
    assert path
    return path


def as_json(capsys: pytest.CaptureFixture[str], *args: str) -> Any:
    """Run the command and return its document."""
    assert cli.run(["history", "--json", *args]) == 0
    return json.loads(capsys.readouterr().out)


def test_json_lists_sessions_from_their_own_files(capsys: pytest.CaptureFixture[str]) -> None:
    """Each session is reported with the numbers its file was saved with, the oldest first."""
    later, first = finished(days=3), finished()

    reported = as_json(capsys)

    assert [first.name, later.name] == [one["session"] for one in reported["sessions"]]
    assert isinstance(reported["ceilings"], list)
    summary = open_session(first).summary
    assert summary
    one = reported["sessions"][0]
    assert one["offset_ms"] == summary["offset"]["mean"]["value"]
    assert one["errors_percent"] == summary["counts"]["errors"]["value"]
    assert (one["passes"], one["strikes"], one["seconds"]) == (2, 32, 3.0)
    assert one["rungs"] == [{"tempo": 120.0, "clean": True}, {"tempo": 120.0, "clean": False}]


def test_choosing(capsys: pytest.CaptureFixture[str]) -> None:
    """A pattern and a player narrow the list down."""
    finished()
    finished("other", player="Bea")

    assert len(as_json(capsys)["sessions"]) == 2
    assert [one["pattern"] for one in as_json(capsys, "other")["sessions"]] == ["other"]
    assert [one["player"] for one in as_json(capsys, "--player", "ada")["sessions"]] == ["Ada"]


def test_text(capsys: pytest.CaptureFixture[str]) -> None:
    """The text tells count, time, trends and the latest sessions."""
    finished()
    finished(days=1)

    assert cli.run(["history"]) == 0

    out = capsys.readouterr().out
    first, last = (day_words(date(2026, 3, day)) for day in (1, 2))
    assert f"2 sessions, 6 seconds of playing, from {first} to {last}." in out
    assert "offset: 3 ms late at first, 3 ms late now" in out
    assert f"  {last}, 18:30: 120 BPM, clean at 120, 3 seconds, Ada: Between two runs" in out


def test_nothing_yet(capsys: pytest.CaptureFixture[str]) -> None:
    """An empty history is a sentence and an empty list, not an error."""
    assert as_json(capsys) == {"sessions": [], "ceilings": [], "patterns": []}
    assert cli.run(["history"]) == 0
    assert "Begin: trainer play single-stroke-roll" in capsys.readouterr().out


def test_without_sessions_that_fit_it_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    """After the demo alone the history is not called empty; a pattern nobody played fits none."""
    assert cli.run(["demo", "flam", "--fast", "--plain", "--passes", "2"]) == 0
    capsys.readouterr()
    assert cli.run(["history"]) == 0
    assert "trainer history --simulated" in capsys.readouterr().out
    assert cli.run(["history", "doubles"]) == 0
    assert "No session fits" in capsys.readouterr().out


def test_unreadable_files_are_reported_and_passed_over(capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is no session is named on standard error; the others are listed."""
    path = finished()
    (path.parent / "noise.jsonl").write_bytes(b"noise\n")

    assert cli.run(["history"]) == 0

    out, err = capsys.readouterr()
    assert "1 session," in out
    assert "noise.jsonl: this is no session file" in err


def test_cut_off_session_is_finished_first(capsys: pytest.CaptureFixture[str]) -> None:
    """A session that a crash cut off is finished, reported, and listed as finished."""
    path = finished()
    path.write_bytes(path.read_bytes()[:-9])

    assert cli.run(["history"]) == 0
    assert "was cut off. It is finished now" in capsys.readouterr().err
    assert as_json(capsys)["sessions"][0]["finished"]


def test_bad_time_is_reported(capsys: pytest.CaptureFixture[str]) -> None:
    """A length of time that cannot be read is one sentence and status 2."""
    assert cli.run(["history", "--since", "soon"]) == 2
    assert "--since" in capsys.readouterr().err


def test_every_trend_has_its_words() -> None:
    """Each number a history follows has a name, a unit and a form for people."""
    assert list(MEASURES) == list(TREND_WORDS)


def test_main_numbers_stand_where_the_reading_puts_them() -> None:
    """Each main number is found in a true summary: none of its places has moved."""
    summary = open_session(finished()).summary
    assert summary
    for steps in FIGURES.values():
        place = summary
        for step in steps[:2]:
            place = place[step]
        assert isinstance(place, dict)


def test_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The picture is written where it is asked for; a place that is not there is reported."""
    finished()

    assert cli.run(["history", "--svg", str(tmp_path / "history.svg")]) == 0
    assert "Between two runs" in (tmp_path / "history.svg").read_text()
    assert cli.run(["history", "--svg", str(tmp_path / "none" / "history.svg")]) == 2
    assert "there is no such folder" in capsys.readouterr().err
    assert cli.run(["history", "--svg", str(tmp_path / "history.png")]) == 2
    assert "end its name in .svg" in capsys.readouterr().err


def test_players_are_reported_one_by_one(capsys: pytest.CaptureFixture[str]) -> None:
    """Figures of two people are never compared with each other, and how to choose one is said."""
    for day, player in enumerate(["Ada", "Ada", "Bea", "", "Bea"]):
        finished(days=day, player=player)

    assert cli.run(["history"]) == 0

    out = capsys.readouterr().out
    assert "Several players are in it: Ada, Bea, no name. --player NAME shows one of them." in out
    assert out.count("  fastest pass: ") == 2
    assert "  Ada: 2 sessions, 6 seconds, 120 BPM" in out
    assert "  no name: 1 session, 3 seconds, 120 BPM" in out
    (reported,) = as_json(capsys)["patterns"]
    assert reported["trends"] == []
    assert [one["player"] for one in reported["players"]] == ["Ada", "Bea", ""]
    assert cli.run(["history", "--player", "Bea"]) == 0
    assert "Several players" not in capsys.readouterr().out


def test_sessions_without_a_stroke_are_marked(capsys: pytest.CaptureFixture[str]) -> None:
    """An empty session says so in place of figures, one that is being written too."""
    start = STARTED + timedelta(days=1)
    empty = Journal(recordings_folder(), replace(header(), started=start))
    empty.pass_started(Pass(0, 120.0, 2.0))
    empty.finish(session_summary(empty.session()))
    running = Journal(recordings_folder(), replace(header(), started=start))
    play(running)

    assert cli.run(["history"]) == 0

    out = capsys.readouterr().out
    running.finish({})
    assert ": nothing played, Ada: Between two runs" in out
    assert ": still running, or cut off, Ada: Between two runs" in out
