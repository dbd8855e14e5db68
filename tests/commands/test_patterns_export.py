"""Exporting a pattern to a file and opening it again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trainer import cli
from trainer.pattern import library
from trainer.pattern.formats import musicxml_file

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("ending", [".mid", ".musicxml", ".txt"])
def test_an_export_opens_as_the_same_pattern(tmp_path: Path, ending: str) -> None:
    """Bars, notes and sections of the exported file are those of the pattern."""
    path = tmp_path / f"out{ending}"

    assert cli.run(["patterns", "export", "flam-accent", "-o", str(path)]) == 0

    one, two = library.load_pattern("flam-accent"), library.load_pattern(str(path))
    assert (one.bars, one.notes, one.sections) == (two.bars, two.notes, two.sections)


def test_the_tempo_can_be_another(tmp_path: Path) -> None:
    """--tempo sets the tempo of the file, in BPM."""
    path = tmp_path / "out.mid"

    cli.run(["patterns", "export", "climb-odd-numbers", "-o", str(path), "--tempo", "93.5"])

    assert library.load_pattern(str(path)).tempo == 93.5


RIMS = """
title = "Rims"
about = "Heads and rims"
hands = { sticking = "R L", path = "floor/rim floor snare/rim hihat/edge" }
"""


def _export(tmp_path: Path, name: str, ending: str) -> None:
    assert cli.run(["patterns", "export", name, "-o", str(tmp_path / f"out{ending}")]) == 0


def test_what_midi_cannot_carry_is_reported(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A rim without a General MIDI note, and the description, are named in one sentence."""
    (tmp_path / "rims.toml").write_text(RIMS)

    _export(tmp_path, str(tmp_path / "rims.toml"), ".mid")

    assert capsys.readouterr().err == (
        "A MIDI file cannot carry floor/rim (4 strokes, written as plain floor tom), hihat/edge "
        "(4 strokes, written as plain hi-hat), what it is about and the notes on what was filled "
        "in for it.\n"
    )


@pytest.mark.parametrize("ending", [".musicxml", ".txt"])
def test_nothing_is_reported_where_nothing_is_lost(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], ending: str
) -> None:
    """MusicXML and tab bring back everything, so nothing is said."""
    (tmp_path / "rims.toml").write_text(RIMS)

    _export(tmp_path, str(tmp_path / "rims.toml"), ending)

    assert capsys.readouterr().err == ""


def test_a_file_too_large_to_read_back_is_still_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The export stands, and the words say that what it lost is not known."""
    monkeypatch.setattr(musicxml_file, "MAX_ELEMENTS", 10)

    _export(tmp_path, "climb-odd-numbers", ".musicxml")

    said = capsys.readouterr().err
    assert said.startswith("What the file may have lost is not known. out.musicxml, line")
    assert (tmp_path / "out.musicxml").is_file()


def test_the_help_says_what_each_format_carries(capsys: pytest.CaptureFixture[str]) -> None:
    """Zones that General MIDI has no note for stand in the help, those it has do not."""
    with pytest.raises(SystemExit):
        cli.run(["patterns", "export", "--help"])

    said = " ".join(capsys.readouterr().out.split())
    assert "tom1/rim, tom2/rim" in said
    assert "hihat/edge" in said
    assert "snare/rim" not in said
    assert "A pattern with ride2 is refused" in said


@pytest.mark.parametrize(
    "argv",
    [
        ["climb-odd-numbers", "-o", "x.wav"],
        ["nothing-here", "-o", "x.mid"],
        ["climb-odd-numbers", "-o", "x.mid", "--tempo", "1000"],
    ],
)
def test_bad_input_is_reported(argv: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown ending, pattern or tempo is status 2, and no file is written."""
    assert cli.run(["patterns", "export", *argv]) == 2
    assert capsys.readouterr().err.strip()
