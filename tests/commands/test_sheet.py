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
from trainer.pattern.formats import musicxml_read, sheet_print

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
    monkeypatch.setattr(sheet_print, "find_spec", lambda name: None)
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
    monkeypatch.setattr(sheet_print, "_way", lambda: None)

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


def _routine(folder: Path) -> Path:
    path = folder / "week.toml"
    path.write_text(
        'title = "Week of Anna"\n\n[[block]]\nkind = "warm-up"\npattern = "flam"\ntempo = 61\n'
        'minutes = 3\n\n[[block]]\nkind = "rest"\nminutes = 1\n\n[[block]]\nkind = "ladder"\n'
        'pattern = "drag"\nfrom = 72\nminutes = 5\n'
    )
    return path


def test_a_routine_is_one_sheet(tmp_path: Path) -> None:
    """A week's routine: its title, and each pattern at the tempo it begins with."""
    path = tmp_path / "week.svg"

    assert cli.run(["sheet", "--routine", str(_routine(tmp_path)), "-o", str(path)]) == 0

    words = _words(path.read_text())
    assert [word for word in words if word in ("Week of Anna", "Flam", "Drag")] == [
        "Week of Anna",
        "Flam",
        "Drag",
    ]
    assert [word for word in words if word.startswith("♩")] == ["♩ = 61", "♩ = 72"]


def test_a_tag_is_one_sheet(tmp_path: Path) -> None:
    """All patterns with a tag, under its name."""
    path = tmp_path / "tag.html"

    assert cli.run(["sheet", "--tag", "flams", "-o", str(path)]) == 0

    titles = [entry.title for entry in library.catalogue() if "flams" in entry.tags]
    assert len(titles) > 3
    assert all(f">{title}<" in path.read_text() for title in titles)


def test_nothing_to_print_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No pattern, no routine, no tag: a sentence."""
    assert cli.run(["sheet", "-o", str(tmp_path / "x.svg")]) == 2
    assert "nothing to print" in capsys.readouterr().err


def test_space_to_write_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Boxes for tempos beside each title, a line for name and date, lines for notes; bounded."""
    path = tmp_path / "x.svg"
    wanted = ["--tempo-boxes", "3", "--name", "--notes", "4"]

    assert cli.run(["sheet", "flam", "drag", *wanted, "-o", str(path)]) == 0

    root = ET.fromstring(path.read_text())
    words = _words(path.read_text())
    assert len(root.findall(f".//{SVG}rect")) == 6
    assert {"Name", "Date", "Notes"} <= set(words)
    assert cli.run(["sheet", "flam", "--notes", "99", "-o", str(path)]) == 2
    assert "99 do not fit" in capsys.readouterr().err


def test_the_page_says_what_the_drums_look_like(tmp_path: Path) -> None:
    """Several drums have a key, the rim with a slash through its head; a snare alone has none."""
    path = tmp_path / "x.svg"
    cli.run(["sheet", "rim-and-head", "-o", str(path)])
    page = path.read_text()
    cli.run(["sheet", "flam", "-o", str(path)])

    assert {"snare", "snare rim"} <= set(_words(page))
    assert "snare" not in _words(path.read_text())
    slashes = ET.fromstring(page).findall(f".//{SVG}g[@class='notehead']/{SVG}path")
    strokes = library.load_pattern("rim-and-head").notes
    assert len(slashes) == sum(note.zone == "rim" for note in strokes)


def test_every_pattern_begins_with_clef_and_meter(tmp_path: Path) -> None:
    """Each of four patterns can be read alone; lines below its first have neither."""
    path = tmp_path / "x.svg"
    cli.run(["sheet", "flam", "drag", "flam-tap", "climb-in-seven", "-o", str(path)])

    assert _count(path.read_text(), "clef") == 4
    meters = ET.parse(path).getroot().iterfind(f".//{SVG}g[@class='meterSig']")
    assert sum(meter.find(f"{SVG}use") is not None for meter in meters) == 4


def test_the_description_is_under_the_title(tmp_path: Path) -> None:
    """What a pattern is about is printed, in full where it fits."""
    path = tmp_path / "x.svg"
    cli.run(["sheet", "unison-groove", "flam", "-o", str(path)])

    assert library.load_pattern("unison-groove").about in _words(path.read_text())


def test_repeats_beside_one_another_have_words_of_their_own(tmp_path: Path) -> None:
    """Titles and times of one-bar sections share a height and do not overlap."""
    source = tmp_path / "r.toml"
    source.write_text(
        "".join(
            f'[[section]]\ntitle = "{title}"\nhands = "R L R R"\ntimes = {times}\n\n'
            for title, times in (("a rather long title of a section", 3), ("another", 4))
        )
    )
    path = tmp_path / "x.svg"
    cli.run(["sheet", str(source), "-o", str(path)])

    titles = [
        text
        for text in ET.parse(path).getroot().iterfind(f".//{SVG}g[@class='dir']/{SVG}text")
        if "times" in (text.text or "")
    ]
    assert [text.text for text in titles] == [
        "a rather long title of a section, 3 times",
        "another, 4 times",
    ]
    first, second = titles
    assert first.get("y") == second.get("y")
    wide = 0.46 * float(first.get("font-size", "0")[:-2]) * len(first.text or "")
    assert float(first.get("x", "0")) + wide < float(second.get("x", "0"))
