"""`trainer tonight`: the plan in lines and as JSON, saved, and begun with enter."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime

import pytest
from sessions import climbed

from trainer import cli
from trainer.archive import goals, routines
from trainer.file_system import user_folder
from trainer.pattern.library import load_pattern
from trainer.practice.evening import STEP
from trainer.practice.routine import LADDER, REST


def test_the_plan_is_printed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each block with its why; no line is too wide; without a terminal nothing is asked."""
    climbed(load_pattern("two-drums-fours"), datetime(2026, 3, 25, 19, tzinfo=UTC))
    goals.add(goals.Goal("A name that is long enough to be broken over two lines", 152, "16"))
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))
    assert cli.run(["tonight", "--minutes", "60"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Tonight: 60 minutes, 7.5 of them rest")
    assert max(map(len, said.splitlines())) <= 79
    assert "put the sticks down" in said
    assert "Enter starts it" not in said
    assert not user_folder("evenings").exists()


def test_the_plan_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    """All the facts of a block, and nothing else on the way."""
    assert cli.run(["tonight", "--json", "--minutes", "20"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["first"]
    assert sum(one["minutes"] for one in found["blocks"]) == found["minutes"] == 20
    first = next(one for one in found["blocks"] if one["kind"] == LADDER)
    assert first["why"]["reason"] == STEP
    assert [one["why"] for one in found["blocks"] if one["kind"] == REST] == [None]


def test_the_plan_is_saved(capsys: pytest.CaptureFixture[str]) -> None:
    """As a routine that its own command reads; a taken name is refused."""
    assert cli.run(["tonight", "--save", "mine"]) == 0
    assert "mine.toml" in capsys.readouterr().out
    assert cli.run(["routine", "mine", "--check"]) == 0
    assert "mine: 15 minutes" in capsys.readouterr().out
    assert cli.run(["tonight", "--save", "mine"]) == 2
    assert cli.run(["tonight", "--save", "../mine"]) == 2
    assert [path.name for path in routines.known_routines()] == ["mine.toml"]


@pytest.mark.parametrize("minutes", ["4", "1000", "nan"])
def test_strange_lengths(minutes: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Refused in a sentence with its remedy."""
    assert cli.run(["tonight", "--minutes", minutes]) == 2
    assert "choose 5 to 480" in capsys.readouterr().err


class Terminal(io.StringIO):
    """A terminal on which a line was typed."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("typed", "begun"), [("\n", True), ("q\n", False), ("", False)])
def test_enter_starts_it_on_a_plain_terminal(
    typed: str, begun: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Enter alone plays the evening that was shown; anything else leaves."""
    played: list[str] = []
    monkeypatch.setattr("sys.stdin", Terminal(typed))
    monkeypatch.setattr("sys.stdout", Terminal())
    monkeypatch.setattr(
        "trainer.commands.play_as_text.play_routine",
        lambda going, _text: played.append(going.routine.title),
    )
    assert cli.run(["tonight", "--plain"]) == 0
    assert len(played) == begun
    assert user_folder("evenings").exists() == begun
