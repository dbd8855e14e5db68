"""`trainer demo`: the whole main job with a simulated player."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest

from trainer import cli
from trainer.archive.session_file import open_session

if TYPE_CHECKING:
    from pathlib import Path


def _demo(capsys: pytest.CaptureFixture[str], *args: str) -> str:
    """Run the demo in simulated time and return what it said."""
    assert cli.run(["demo", "--fast", *args]) == 0
    return capsys.readouterr().out


def test_it_goes_through_the_whole_job(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Count-in, a line for every bar of every pass, a summary, and where the session is."""
    lines = _demo(capsys, "--passes", "2", "--recordings", str(tmp_path)).splitlines()

    assert sum(line.startswith("Bar ") for line in lines) == 2 * 12
    assert [line for line in lines if line.startswith("Pass")] == [
        "Pass 1 of 2 at 88 BPM.",
        "Pass 2 of 2 at 88 BPM.",
    ]
    (path,) = tmp_path.glob("*.jsonl")
    assert lines[-1] == f"Saved: {path}"
    assert open_session(path).summary is not None


def test_the_same_seed_says_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    """A seed is repeatable to the last word; another seed is another evening."""
    first, again, other = (
        _demo(capsys, "--passes", "1", "--seed", seed).splitlines()[:-1] for seed in "778"
    )

    assert first == again
    assert first != other


def test_plain_lines_hold_no_control_characters(capsys: pytest.CaptureFixture[str]) -> None:
    """A screen reader gets text and line breaks, nothing else."""
    text = _demo(capsys, "--passes", "1", "--every-hit")

    assert all(char.isprintable() or char == "\n" for char in text)


def test_every_hit_has_its_line(capsys: pytest.CaptureFixture[str]) -> None:
    """With --every-hit each written stroke is reported once, with side and size or as missed."""
    lines = _demo(capsys, "--passes", "1", "--every-hit").splitlines()
    last_bar = max(place for place, line in enumerate(lines) if line.startswith("Bar "))
    strokes = [line for line in lines[:last_bar] if re.match(r"  [a-z -]+: ", line)]
    beside = [line for line in strokes if "extra" in line or "double trigger" in line]

    assert len(strokes) - len(beside) == 192


def test_json_is_one_document(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """With --json there is nothing but the summary and where the session is."""
    reported = json.loads(_demo(capsys, "--passes", "1", "--json", "--recordings", str(tmp_path)))

    assert reported["summary"] == open_session(next(tmp_path.glob("*.jsonl"))).summary
    assert reported["session"] == str(next(tmp_path.glob("*.jsonl")))


def test_it_lasts_about_a_minute_by_default(capsys: pytest.CaptureFixture[str]) -> None:
    """Without --passes as many are played as fill a minute best."""
    lines = _demo(capsys).splitlines()

    assert sum(line.startswith("Pass ") for line in lines) == 2  # 12 bars of 4/4 at 88 take 33 s


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--passes", "0"], "--passes: 0 passes cannot be played"),
        (["--tempo", "19"], "a tempo of 19 BPM is out of range"),
        (["--tempo", "nan"], "a tempo of nan BPM is out of range"),
        (["--count-in", "-1"], "--count-in: a count-in of -1 bars is out of range"),
        (["--silent-bars", "4/4"], '--silent-bars: "4/4" is not understood; write 1/4 (the last'),
        (["--strict", "utterly"], '--strict: there is no level "utterly"'),
        (["no-such-pattern"], "no-such-pattern"),
    ],
)
def test_what_cannot_be_played_is_said_in_one_sentence(
    capsys: pytest.CaptureFixture[str], args: list[str], said: str
) -> None:
    """Bad input ends with status 2 and a sentence, before anything is played or saved."""
    assert cli.run(["demo", "--fast", *args]) == 2
    reported = capsys.readouterr()

    assert said in reported.err
    assert reported.err.count("\n") == 1
    assert not reported.out
