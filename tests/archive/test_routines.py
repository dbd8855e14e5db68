"""Routine files, and sittings that are taken up again."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from textwrap import dedent
from typing import TYPE_CHECKING

import pytest

from trainer.archive.routines import (
    RoutineProgressFile,
    begin_routine,
    load_routine,
    read_routine,
)
from trainer.archive.session_list import SessionEntry
from trainer.cli import parser_for, run
from trainer.commands import play_as_text
from trainer.errors import BadInput
from trainer.practice.events import Finished
from trainer.practice.routine import (
    BLOCK_KINDS,
    FREE,
    REST,
    Block,
    Routine,
    RoutineProgress,
    missing_rests,
)

if TYPE_CHECKING:
    from pathlib import Path

TEXT = """
title = "Between two shows"
[[block]]
kind = "warm-up"
pattern = "single-stroke-roll"
tempo = 80
minutes = 0.5
[[block]]
kind = "ladder"
pattern = "single-stroke-roll"
from = 70
step = 4
minutes = 1
[[block]]
kind = "rest"
minutes = 1
[[block]]
kind = "free"
minutes = 0.5
"""
BEGAN = datetime(2026, 6, 30, 12, tzinfo=UTC)


def _file(folder: Path, text: str = TEXT) -> Path:
    path = folder / "shows.toml"
    path.write_text(text)
    return path


def test_a_routine_is_read_block_by_block() -> None:
    """Every kind of block, with what its kind knows."""
    routine = read_routine(TEXT, "shows")

    assert [block.kind for block in routine.blocks] == ["warm-up", "ladder", "rest", "free"]
    assert routine.blocks[1].start == 70
    assert routine.minutes == 3


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"single-stroke-roll"\ntempo', '"single-stroke-rol"\ntempo', "line 5.*no pattern"),
        ('kind = "rest"', 'kind = "nap"', "line 15.*warm-up, ladder, free, rest"),
        ('"single-stroke-roll"\ntempo', '""\ntempo', "line 5.*no pattern"),
        ("step = 4", "step = 0", "line 12.*0 is not a number"),
        ("step = 4", "top = 60", "below its start"),
        ('minutes = 1\n[[block]]\nkind = "free"', '[[block]]\nkind = "free"', "minutes is missing"),
        ("tempo = 80", "tmepo = 80", 'did you mean "tempo"'),
        ("title = ", "title = 3 ", "not TOML"),
        ('"ladder"', '"laddr"', r"^line 9, block 2, kind: laddr .*free, rest\.?$"),
        (TEXT, "", "^line 1: has no blocks"),
        (TEXT, "[[blocks]]", r'^line 1, blocks: .*did you mean "block"\?$'),
        (TEXT, "\nblock = []", "^line 2, block: has no blocks"),
    ],
)
def test_faults_are_found_before_the_first_click(old: str, new: str, words: str) -> None:
    """A missing pattern, a ladder that cannot move, a wrong key: with the place in the file."""
    assert old in TEXT

    with pytest.raises(BadInput, match=words) as caught:
        read_routine(TEXT.replace(old, new, 1), "shows")
    assert "\n" not in str(caught.value)


def test_the_help_holds_a_routine_that_can_be_played() -> None:
    """What `trainer routine --help` shows at its end is a routine file with every kind of block."""
    _, _, shown = parser_for("routine").format_help().partition("to copy and change:")
    routine = read_routine(dedent(shown), "help")

    assert [block.kind for block in routine.blocks] == [*BLOCK_KINDS[:2], REST, FREE]


def test_a_sitting_goes_on_where_it_stopped(tmp_path: Path) -> None:
    """What was done is kept; a changed file begins anew; the end is forgotten."""
    path = _file(tmp_path)
    sitting = RoutineProgressFile(path, load_routine(path))
    sitting.keep(RoutineProgress(1, 25.0))

    assert RoutineProgressFile(path, load_routine(path)).progress() == RoutineProgress(1, 25.0)
    changed = replace(load_routine(path), title="Other")
    assert RoutineProgressFile(path, changed).progress() == RoutineProgress()
    sitting.keep(RoutineProgress(4))
    assert sitting.progress() == RoutineProgress()


def test_a_crash_inside_a_block_counts_what_its_sessions_hold(tmp_path: Path) -> None:
    """Seconds played since the block began are taken from the saved sessions of its pattern."""
    path = _file(tmp_path)
    sitting = RoutineProgressFile(path, load_routine(path))
    sitting.keep(RoutineProgress(1, 5.0), BEGAN)

    def played(minutes: float, seconds: float, name: str = "single-stroke-roll") -> SessionEntry:
        when = BEGAN + timedelta(minutes=minutes)
        return SessionEntry(path, when, name, "P", "", True, seconds, 1, 1, None, (), {})

    assert sitting.progress([played(-3, 60.0), played(0.1, 20.0)]) == RoutineProgress(1, 25.0)
    assert sitting.progress([played(0.1, 20.0, "figure-eight")]) == RoutineProgress(1, 5.0)
    assert sitting.progress([played(0.1, 47.0)]) == RoutineProgress(2)
    assert sitting.progress([played(0.1, 900.0)]) == RoutineProgress(2)


def test_a_rest_is_proposed_after_long_stretches() -> None:
    """Half an hour of playing without a rest asks for one, once for each stretch."""
    play, rest = Block("free", 20), Block(REST, 5)

    assert missing_rests(Routine("r", (play, play, play, play, rest, play))) == [(1, 40.0)]
    assert missing_rests(Routine("r", (play, rest, play, play))) == []


def test_a_whole_routine_runs_as_one_sitting(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two blocks are played and saved, nobody plays in the open one, the next start begins anew."""
    path = _file(tmp_path)
    command = ["routine", str(path), "--port", "simulated", "--fast", "--plain"]
    command += ["--recordings", str(tmp_path / "sessions")]

    assert run(command) == 0
    reported = capsys.readouterr().out
    assert "The routine is done." in reported
    assert reported.count("Saved:") == 2
    assert len(list((tmp_path / "sessions").glob("*.jsonl"))) == 2
    assert RoutineProgressFile(path, load_routine(path)).progress() == RoutineProgress()


def test_a_routine_can_be_checked_without_playing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`--check` shows the blocks and proposes rests."""
    long = TEXT.replace("minutes = 0.5", "minutes = 40")

    assert run(["routine", str(_file(tmp_path, long)), "--check"]) == 0
    reported = capsys.readouterr().out
    assert "1. warm-up, 40 minutes, Single stroke roll" in reported
    assert "minutes off" in reported


def test_a_block_is_done_before_its_summary_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed while the summary of a finished block stands, the sitting goes on with the next."""
    path = _file(tmp_path)
    command = ["routine", str(path), "--port", "simulated", "--fast", "--plain"]

    def killed(*given: object) -> None:
        given[-1](Finished(None, {}))  # type: ignore[operator]
        raise KeyboardInterrupt

    monkeypatch.setattr(play_as_text, "play", killed)

    assert run(command) == 130
    assert RoutineProgressFile(path, load_routine(path)).progress() == RoutineProgress(1)


@pytest.mark.parametrize("kind", ["rest", "free"])
def test_a_block_too_short_to_be_played_is_refused(kind: str) -> None:
    """A block that would be ticked off unplayed is a fault of the file, reported with its line."""
    with pytest.raises(BadInput, match=r"line 3.*0\.1 is not a number from 0\.25"):
        read_routine(f'[[block]]\nkind = "{kind}"\nminutes = 0.1\n', "short")


@pytest.mark.parametrize(
    "pattern", ["climb-odd-numbers", 'single-paradiddle path="snare x4, tom1 x4"']
)
def test_a_routine_begun_around_any_pattern_is_read(pattern: str) -> None:
    """A pattern with changes, quotes and all, is written so that it is read; remarks stay."""
    path = begin_routine("evening", pattern)

    assert {one.pattern for one in load_routine(path).blocks if one.pattern} == {pattern}
    assert "# begins a little below your ceiling; from = 70 sets it" in path.read_text()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "NaN",
        '{"routine": 1}',
        '{"routine": "MARK", "block": 9, "seconds": 1}',
        '{"routine": "MARK", "block": 1, "seconds": 1e999}',
        '{"routine": "MARK", "block": 1, "seconds": ' + "9" * 400 + "}",
        '{"routine": "MARK", "block": 1, "seconds": 1, "began": "yesterday"}',
    ],
)
def test_a_strange_progress_file_begins_again(tmp_path: Path, text: str) -> None:
    """Whatever is in the file that keeps the progress, the routine is played from its start."""
    path = _file(tmp_path)
    kept = RoutineProgressFile(path, load_routine(path))
    kept.keep(RoutineProgress(1, 25.0))
    mark = json.loads(kept._path.read_bytes())["routine"]
    kept._path.write_text(text.replace("MARK", mark))

    assert kept.progress() == RoutineProgress()


def test_a_block_says_what_its_click_plays() -> None:
    """The texts of the options, and whole numbers where they are enough; a rest has no click."""
    text = TEXT.replace("tempo = 80", 'click_parts = 2\nclick_swing = "67"\nsilent_bars = "1-3/4"')
    block = read_routine(text, "a").blocks[0]
    assert dict(block.click) == {
        "click_parts": "2",
        "click_swing": "67",
        "silent_bars": "1-3/4",
    }
    for wrong, fault in (
        (TEXT.replace("step = 4", 'click_on = "0"'), r'click_on.*"0" is not understood'),
        (TEXT.replace("tempo = 80", "click_swing = 67"), "click_swing.*two clicks to a beat"),
        (TEXT + '[[block]]\nkind = "rest"\nminutes = 1\nclick_on = "2"', "click_on"),
    ):
        with pytest.raises(BadInput, match=fault):
            read_routine(wrong, "a")
