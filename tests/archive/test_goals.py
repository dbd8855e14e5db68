"""Goals in a file of the player's, and what is shown of them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from trainer.archive import goals
from trainer.archive.goals import Goal
from trainer.cli import run
from trainer.errors import BadInput

if TYPE_CHECKING:
    from pathlib import Path

LAST_PAGE = Goal('Overture "last page"', 152, "16", "Jo")


def test_goals_are_kept_changed_and_forgotten() -> None:
    """A goal of the same name takes the place of the old one."""
    goals.add(LAST_PAGE)
    goals.add(Goal("Samba", 110, "16t"))
    goals.add(Goal('overture "LAST page"', 160, "16"))

    assert [(one.name, one.tempo) for one in goals.load()] == [
        ('overture "LAST page"', 160),
        ("Samba", 110),
    ]
    assert [one.name for one in goals.remove("samba")] == ['overture "LAST page"']


@pytest.mark.parametrize(
    ("goal", "fault"),
    [
        (Goal("x", 5, "16"), "^tempo: 5 "),
        (Goal("x", float("nan"), "16"), "^tempo: nan "),
        (Goal("x", 100, '1"'), "^value: "),
        (Goal(" ", 90, "8"), "needs a name"),
        (Goal("a\0b", 90, "8"), r"^name: .* U\+0000"),
    ],
)
def test_a_goal_that_makes_no_sense_is_refused(goal: Goal, fault: str) -> None:
    """A tempo out of range, no value, no name: reported by its option, nothing is kept."""
    with pytest.raises(BadInput, match=fault):
        goals.add(goal)

    assert goals.load() == ()


def test_all_faults_of_a_goals_file_are_reported_with_their_lines() -> None:
    """A file edited by hand says where it is wrong."""
    with pytest.raises(BadInput) as caught:
        goals.read('[[goal]]\nname = "a"\ntempo = 900\nvalue = "16"\n[[goal]]\nnam = "b"\n')

    reported = str(caught.value).splitlines()
    assert "line 3" in reported[0]
    assert any('did you mean "name"' in line for line in reported)
    assert any("is missing" in line for line in reported)


def test_margins_come_from_the_ladders_played(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A goal shows each climbed pattern's rate against the rate it asks."""
    assert run(["goal", "add", "Slow song", "--tempo", "60", "--value", "8"]) == 0
    climb = ["ladder", "single-stroke-roll", "--port", "simulated", "--fast", "--plain"]
    climb += ["--from", "80", "--step", "20", "--minutes", "2", "--recordings", str(tmp_path)]
    assert run(climb) == 0
    capsys.readouterr()
    goals_of = ["goal", "list", "--json", "--recordings", str(tmp_path)]
    assert run(goals_of) == 0
    assert not json.loads(capsys.readouterr().out)["goals"][0]["margins"]  # nobody played it

    (path,) = tmp_path.glob("*.jsonl")
    path.write_text(path.read_text().replace('"source":"simulated player"', '"source":"Kit"', 1))
    assert run(goals_of) == 0
    reported = json.loads(capsys.readouterr().out)["goals"][0]
    assert reported["asked"] == 2.0
    assert reported["margins"][0]["pattern"] == "single-stroke-roll"
    assert reported["margins"][0]["ceiling"] > 2.0
    off = reported["margins"][0]["week_off"]
    assert off is None or off["why"]


GOALS = """\
# this year
[[goal]]
name = "Overture"   # page 9
tempo = 152
value = "16"

# after that
[[goal]]
name = "Samba"
value = "16t"       # as sextuplets
tempo = 110
player = "Jo"
"""


def test_goals_are_added_changed_and_removed_in_place() -> None:
    """What was written by hand stays: remarks, order, and keys that were left out."""
    goals.path().parent.mkdir(parents=True, exist_ok=True)
    goals.path().write_text(GOALS)
    goals.add(Goal("New", 60, "8"))
    goals.add(Goal("samba", 120, "16t", "Jo"))

    text = goals.path().read_text()
    changed = ('name = "Samba"', "tempo = 110")
    lost = [line for line in GOALS.splitlines() if line not in text.splitlines()]
    assert tuple(lost) == changed
    assert [one.tempo for one in goals.load()] == [152, 120, 60]
    goals.remove("Overture")
    assert "# after that\n[[goal]]" in goals.path().read_text()


def test_one_goal_more_than_can_be_read_is_refused() -> None:
    """The bound is that of reading: the file stays as it is, and readable."""
    rows = [f'[[goal]]\nname = "{at}"\ntempo = 60\nvalue = "8"\n' for at in range(goals.MOST_GOALS)]
    goals.path().parent.mkdir(parents=True, exist_ok=True)
    goals.path().write_text("".join(rows))

    with pytest.raises(BadInput, match="there are 1000 goals already"):
        goals.add(Goal("one more", 60, "8"))

    assert len(goals.load()) == goals.MOST_GOALS
    goals.path().write_text("".join([*rows, rows[0]]))
    with pytest.raises(BadInput, match="has more than 1000 tables"):
        goals.load()


def test_goals_that_make_the_file_too_large_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Long names fill a file before its count does: what could not be read is not written."""
    monkeypatch.setattr(goals, "LARGEST", 5000)
    goals.add(Goal("a" * 2000, 60, "8"))
    goals.add(Goal("b" * 2000, 60, "8"))

    with pytest.raises(BadInput, match="would be larger than 5 kB"):
        goals.add(Goal("c" * 2000, 60, "8"))

    assert len(goals.load()) == 2
