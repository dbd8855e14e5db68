"""Printing patterns: the files that come out, and what is said when a page cannot be had."""

from __future__ import annotations

import re
import shutil
import sys
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

from trainer import cli
from trainer.pattern import library
from trainer.pattern.formats import musicxml_read, sheet

if TYPE_CHECKING:
    from pathlib import Path

SVG = "{http://www.w3.org/2000/svg}"


def _words(page: str) -> list[str]:
    return ["".join(text.itertext()) for text in ET.fromstring(page).iter(f"{SVG}text")]


def _count(page: str, kind: str) -> int:
    return len(ET.fromstring(page).findall(f".//{SVG}g[@class='{kind}']"))


def test_a_page_shows_title_tempo_and_sticking(tmp_path: Path) -> None:
    """One pattern: its title, its tempo as a note, its letters, a note for every stroke."""
    path = tmp_path / "odd.svg"

    assert cli.run(["sheet", "climb-odd-numbers", "-o", str(path)]) == 0

    page = path.read_text()
    pattern = library.load_pattern("climb-odd-numbers")
    words = _words(page)
    assert pattern.title in words
    assert f"♩ = {pattern.tempo:g}" in words
    assert [word for word in words if word in "RL"] == ["R", "L"] * (pattern.strokes // 2)
    assert _count(page, "note") == pattern.strokes
    assert _count(page, "clef") >= 1


def test_several_patterns_share_a_page(tmp_path: Path) -> None:
    """Each pattern starts a line of its own under its title; the page has its heading."""
    path = tmp_path / "week.svg"
    names = ["flam-tap", "single-paradiddle", "climb-odd-numbers"]

    assert cli.run(["sheet", *names, "-o", str(path), "--title", "Week <1> & 2"]) == 0

    words = _words(path.read_text())
    assert "Week <1> & 2" in words
    for name in names:
        assert any(word.startswith(library.load_pattern(name).title) for word in words)


def test_repeats_are_printed_as_repeats(tmp_path: Path) -> None:
    """Each of ten orders, played twice, is one bar between repeat signs."""
    path = tmp_path / "orders.svg"

    cli.run(["sheet", "five-drums-drawn", "-o", str(path)])

    assert _count(path.read_text(), "measure") == 10


def test_a_long_pattern_fills_several_pages(tmp_path: Path) -> None:
    """As SVG each page is a file of its own; as HTML they are pages of one file."""
    names = ["two-to-five"] * 2

    cli.run(["sheet", *names, "-o", str(tmp_path / "long.svg")])
    cli.run(["sheet", *names, "-o", str(tmp_path / "long.html")])

    pages = sorted(tmp_path.glob("long-*.svg"))
    assert len(pages) > 1
    assert (tmp_path / "long.html").read_text().count("<svg ") >= len(pages)


def test_a_pdf_has_the_paper_asked_for(tmp_path: Path) -> None:
    """A PDF page of A4 is 595 by 842 points, and there is one for each page of music."""
    pytest.importorskip("typst")
    path = tmp_path / "long.pdf"

    assert cli.run(["sheet", *["two-to-five"] * 3, "-o", str(path)]) == 0

    boxes = re.findall(rb"/MediaBox ?\[ ?0 0 ([\d.]+) ([\d.]+)", path.read_bytes())
    assert len(boxes) == 3
    assert {(round(float(w)), round(float(h))) for w, h in boxes} == {(595, 842)}


def test_a_pdf_is_made_without_typst_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """rsvg-convert, where it is installed, stands in."""
    if not shutil.which("rsvg-convert"):
        pytest.skip("rsvg-convert is not installed")
    monkeypatch.setattr(sheet, "find_spec", lambda name: None)
    path = tmp_path / "odd.pdf"

    assert cli.run(["sheet", "climb-odd-numbers", "-o", str(path)]) == 0
    assert path.read_bytes().startswith(b"%PDF-")


def test_the_musicxml_is_always_written(tmp_path: Path) -> None:
    """Beside the page lies the MusicXML, which reads back as the pattern."""
    cli.run(["sheet", "flam", "-o", str(tmp_path / "flam.svg")])

    assert (
        musicxml_read.read(tmp_path / "flam.musicxml").notes == library.load_pattern("flam").notes
    )


def test_without_verovio_the_words_say_how(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without the extra the MusicXML is written, and the sentence says what to install."""
    monkeypatch.setitem(sys.modules, "verovio", None)

    status = cli.run(["sheet", "climb-odd-numbers", "-o", str(tmp_path / "odd.pdf")])

    assert status == 1
    assert (tmp_path / "odd.musicxml").is_file()
    reported = capsys.readouterr().err
    assert 'pip install "verovio<7"' in reported
    assert ".musicxml is written" in reported


def test_without_a_way_to_pdf_the_words_say_how(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without any program for PDF the sentence says how to print the HTML."""
    monkeypatch.setattr(sheet, "_way", lambda: None)

    assert cli.run(["sheet", "climb-odd-numbers", "-o", str(tmp_path / "odd.pdf")]) == 1
    assert "print it to PDF from any browser" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["climb-odd-numbers", "-o", "x.doc"], "a sheet ends in"),
        (["climb-odd-numbrs", "-o", "x.svg"], "no pattern"),
    ],
)
def test_bad_input_is_reported(
    argv: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """An unknown ending or pattern is one sentence and status 2."""
    assert cli.run(["sheet", *argv]) == 2
    assert words in capsys.readouterr().err


def test_a_folder_that_is_missing_is_reported(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the file cannot be written, the sentence names it."""
    assert cli.run(["sheet", "climb-odd-numbers", "-o", str(tmp_path / "none" / "x.svg")]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_the_sticking_stands_on_one_line_clear_of_the_feet(tmp_path: Path) -> None:
    """In each line of music the letters share a height, below every stem."""
    path = tmp_path / "groove.svg"
    cli.run(["sheet", "paradiddle-groove", "linear-sixteenths", "-o", str(path)])

    for system in ET.parse(path).getroot().iterfind(f".//{SVG}g[@class='system']"):
        heights = {
            int(text.get("y", "0"))
            for text in system.iterfind(f".//{SVG}g[@class='verse']//{SVG}text")
        }
        stems = [
            int(number)
            for stem in system.iterfind(f".//{SVG}g[@class='stem']/{SVG}path")
            for number in re.findall(r" (\d+)", stem.get("d", ""))
        ]
        assert len(heights) == 1
        letter = 405
        assert heights.pop() - letter * 3 // 4 > max(stems)


def test_a_sheet_has_an_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """More bars than a hundred pages hold are refused, with the count."""
    endless = tmp_path / "endless.toml"
    endless.write_text('length = 3120\n[feet]\nvalue = "1"\nkick = "x"\n')

    assert cli.run(["sheet", str(endless), "-o", str(tmp_path / "x.svg")]) == 2
    assert "3,120 bars" in capsys.readouterr().err
