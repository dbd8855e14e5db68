"""Exporting a pattern to a file and opening it again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trainer import cli
from trainer.pattern import files

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("ending", [".mid", ".musicxml", ".txt"])
def test_an_export_opens_as_the_same_pattern(tmp_path: Path, ending: str) -> None:
    """Bars, notes and sections of the exported file are those of the pattern."""
    path = tmp_path / f"out{ending}"

    assert cli.run(["patterns", "export", "flam-accent", "-o", str(path)]) == 0

    one, two = files.load("flam-accent"), files.load(str(path))
    assert (one.bars, one.notes, one.sections) == (two.bars, two.notes, two.sections)


def test_the_tempo_can_be_another(tmp_path: Path) -> None:
    """--tempo sets the tempo of the file, in BPM."""
    path = tmp_path / "out.mid"

    cli.run(["patterns", "export", "climb", "-o", str(path), "--tempo", "93.5"])

    assert files.load(str(path)).tempo == 93.5


@pytest.mark.parametrize(
    "argv",
    [
        ["climb", "-o", "x.wav"],
        ["nothing-here", "-o", "x.mid"],
        ["climb", "-o", "x.mid", "--tempo", "1000"],
    ],
)
def test_bad_input_is_told(argv: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown ending, pattern or tempo is status 2, and no file is written."""
    assert cli.run(["patterns", "export", *argv]) == 2
    assert capsys.readouterr().err.strip()
