"""Files from strangers: said in plain sentences, in bounded time and memory."""

from __future__ import annotations

import os
import struct
import zipfile
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from scores import FOUR, score

from trainer import toml_text
from trainer.errors import BadInput, Faults
from trainer.pattern import library
from trainer.pattern.formats import musicxml_file, musicxml_read
from trainer.pattern.language import notation

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.pattern.model import Pattern

STRANGE = {
    "nested arrays": ("x = " + "[" * 50_000, "nested too deep"),
    "nested tables": ("x = " + "{a=" * 5000 + "1" + "}" * 5000, "nested too deep"),
    # A key of 100 000 parts would cost the TOML reader gigabytes.
    "key of many parts": (".".join("a" * 100_000) + " = 1", "nested too deep"),
    "table of many parts": ("[" + ".".join("a" * 100_000) + "]", "nested too deep"),
    "number of 100 000 digits": ("level = " + "9" * 100_000, "too long"),
    "hexadecimal giant": ("length = 0x" + "f" * 100_000, "line 1: holds a number that is too long"),
    "not a number": ('tempo = nan\nhands = "RL"', "not a tempo"),
    "endless tempo": ('tempo = 1e999\nhands = "RL"', "not a tempo"),
    "repeat": ('hands = "R x99999999999"', "out of range"),
    "repeats of repeats": (
        'hands = "|: |: |: R x100000 :| x100000 :| x1000 :| x10"',
        "10000000000 strokes",
    ),
    "brackets": ('hands = "' + "|: " * 9999 + "R" + " :|" * 9999 + '"', "more than 8 deep"),
    "old brackets": ('hands = "' + "[" * 9999 + "R" + "]" * 9999 + '"', "is the old spelling"),
    "open ghosts": ('hands = "' + "(" * 500_000 + '"', "more than 8 deep"),
    "endless path": ('[hands]\npath = "|: snare x200000 :| x200000"', "40000000000 strokes"),
    "orders without end": (
        '[hands]\norders = "all"\npath = "' + "snare tom1 " * 50_000 + '"',
        "more orders than can be counted",
    ),
    "a million meters": ('meter = [%s]\nhands = "RL"' % ('"4/4",' * 99_999), "not a meter"),
    "other digits": ('meter = "٤/٤"\nhands = "RL"', "not a meter"),
    "meter without beats": ('meter = "0/4"\nhands = "RL"', "not a meter"),
    "sections without end": ("hands = 'RL'\n" + "[[section]]\n" * 50_000, "50000 sections"),
    "a climb over many meters": (
        'meter = [%s]\n[hands]\nvalue = "16 x199999"' % ('"4/4",' * 64),
        "only after 12799936 bars",
    ),
    "length": ('length = 20000\n[hands]\nvalue = "64q"', "1600000 strokes"),
    "escape": ('title = "\\u001b[31mred"\nhands = "RL"', "control character U+001B"),
    "right to left": ('title = "a\\u202eb"\nhands = "RL"', "control character U+202E"),
    "section of a number": ("section = 3", "list of tables"),
    "hands of a number": ("hands = 3", "not a table"),
    "date": ('title = 1979-05-27\nhands = "RL"', "not a text"),
    "half a TOML": ('[hands]\nsticking = "R L', "line 2"),
    "going along with itself": ('hands = "RL"\n[feet]\nkick = "same as kick"', "no stroke to go"),
    "nothing": ("", "no stroke is written"),
}


def pattern(source: str) -> Pattern:
    """Return the pattern of a TOML text."""
    return notation.read(toml_text.parse(source), "test", source)


@pytest.mark.parametrize("name", STRANGE)
def test_strange_text_is_refused_in_words(name: str) -> None:
    """Each strange text ends in one of our own errors that says what is wrong."""
    source, words = STRANGE[name]
    with pytest.raises(BadInput) as caught:
        pattern(source)

    assert words in str(caught.value)
    assert len(str(caught.value)) < 1000


def test_thousands_of_faults_are_cut_short() -> None:
    """A file of nothing but faults tells the first hundred."""
    with pytest.raises(Faults) as caught:
        pattern("\n".join(f"k{number} = 1" for number in range(5000)))

    assert len(caught.value.faults) == 100


def test_markup_in_a_title_stays_text() -> None:
    """What looks like markup is a title like any other."""
    title = "[bold]loud[/bold] <b>x</b>"

    assert pattern(f'title = "{title}"\nhands = "RL"').title == title


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"\xff\xfe\x00", "UTF-8"), (b"x" * 2_000_001, "larger than"), (b"\x00" * 9, "line 1")],
)
def test_files_that_are_no_text_are_named(tmp_path: Path, content: bytes, words: str) -> None:
    """A file that cannot be a pattern is refused with its name."""
    path = tmp_path / "odd.toml"
    path.write_bytes(content)
    with pytest.raises(BadInput, match=r"odd\.toml") as caught:
        library.load_pattern(str(path))

    assert words in str(caught.value)


@pytest.mark.parametrize(
    "name", ["~nobody-at-all/x.toml", "x" * 5000, "x" * 5000 + ".toml", "a\0b", "a\0.toml", "", "/"]
)
def test_names_that_can_be_no_file_are_refused(name: str) -> None:
    """Names that the system itself refuses are reported like any other wrong name."""
    with pytest.raises(BadInput) as caught:
        library.load_pattern(name)

    assert len(str(caught.value)) < 500


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    """A pipe in the folder is listed as a fault and never opened."""
    folder = tmp_path / "home" / "patterns"
    folder.mkdir(parents=True)
    os.mkfifo(folder / "pipe.toml")
    entries = {entry.name: entry for entry in library.catalogue()}

    assert "not a file" in entries["pipe"].fault
    with pytest.raises(BadInput, match="not a file"):
        library.load_pattern(str(folder / "pipe.toml"))


def test_a_folder_differs_from_a_missing_file(tmp_path: Path) -> None:
    """A folder whose name ends like a pattern is no file; what is not there is missing."""
    (tmp_path / "dir.toml").mkdir()

    with pytest.raises(BadInput, match="this is not a file"):
        library.load_pattern(str(tmp_path / "dir.toml"))
    with pytest.raises(BadInput, match="no such file"):
        library.load_pattern(str(tmp_path / "gone.toml"))


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    """Some editors begin a file with a mark; it is read as if it were not there."""
    path = tmp_path / "marked.toml"
    path.write_bytes(b'\xef\xbb\xbfhands = "RL"')

    assert library.load_pattern(str(path)).strokes == 16


def test_a_broken_file_in_the_folder_does_not_hide_the_others(tmp_path: Path) -> None:
    """The list shows a faulty file with its fault, and everything else as ever."""
    folder = tmp_path / "home" / "patterns"
    folder.mkdir(parents=True)
    (folder / "aaa-broken.toml").write_text("[hands", encoding="utf-8")
    giant = f"0x{'f' * 9999}"
    (folder / "aaa-odd.toml").write_text(
        f"title = {giant}\nlevel = true\ntags = 3\nhands = {giant}\nfeet = {{ ostinato = [] }}",
        encoding="utf-8",
    )
    entries = {entry.name: entry for entry in library.catalogue()}

    assert "line 1" in entries["aaa-broken"].fault
    assert entries["aaa-odd"].title == "aaa-odd"
    assert entries["climb-odd-numbers"].title


def test_meters_that_hardly_ever_come_round_are_laid_out_once() -> None:
    """Nineteen meters under a climb of nine values: their common multiple, and not a bar more."""
    beats = (1, 2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61)
    meters = ", ".join(f'"{count}/4"' for count in beats)
    climb = 'value = "8 8t 16 16q 16t 16s 32 64 4"'
    laid = pattern(f'meter = [{meters}]\n[hands]\nsticking = "RL"\n{climb}\n')
    assert len(laid.bars) == len(beats) * 9


def test_fifty_meters_that_a_climb_does_not_fit_are_refused_with_their_values() -> None:
    """A file of some four hundred letters whose whole round would be millions of bars."""
    meters = [f'"{count}/{unit}"' for count in range(1, 14) for unit in (4, 8, 16, 2)][:50]
    source = f"meter = [{', '.join(meters)}]\n[hands]\n" + 'value = "8 8t 16 16q 16t 16s 32"\n'
    assert len(source) < 450
    with pytest.raises(Faults) as refused:
        pattern(source)
    assert len(refused.value.faults) <= 100
    assert "does not fit" in str(refused.value.faults[0])


def archive(*members: tuple[str, bytes], container: str | None = "score.xml") -> bytes:
    """Return a compressed MusicXML file."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        if container is not None:
            packed.writestr(
                "META-INF/container.xml",
                f'<container><rootfiles><rootfile full-path="{container}"/></rootfiles>'
                "</container>",
            )
        for name, data in members:
            packed.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize("ending", [".mxl", ".musicxml", ".xml"])
@pytest.mark.parametrize("container", ["score.xml", None])
def test_a_compressed_score_is_opened(tmp_path: Path, ending: str, container: str | None) -> None:
    """Whatever its ending, and also without a container, as some programs leave it out."""
    path = tmp_path / f"song{ending}"
    path.write_bytes(archive(("score.xml", score(FOUR)), container=container))

    assert len(library.load_pattern(str(path)).notes) == 4


def test_an_mxl_that_is_plain_xml_is_opened(tmp_path: Path) -> None:
    """A score that is only named as a compressed one is read as it is."""
    path = tmp_path / "song.mxl"
    path.write_bytes(score(FOUR))

    assert len(library.load_pattern(str(path)).notes) == 4


BOMB = b"<score-partwise>" + b" " * (musicxml_file.MAX_BYTES // 4)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (archive(("../score.xml", score(FOUR)), container="../score.xml"), "outside of itself"),
        (archive(("/score.xml", score(FOUR)), container="/score.xml"), "outside of itself"),
        (archive(container="score.xml"), "lacks the score"),
        (archive(("notes.txt", b"x"), container=None), "no score"),
        (archive(("score.xml", BOMB)), "more than a score"),
        (archive(("score.xml", score(FOUR)))[:-60], "damaged"),
        (
            archive(("score.xml", score(FOUR))).replace(b"\x50\x4b\x01\x02", b"PK\x01\x03"),
            "damaged",
        ),
    ],
)
def test_archives_that_are_refused(data: bytes, reason: str) -> None:
    """Nothing leaves the archive, nothing unpacks to more than its bound; each in words."""
    with pytest.raises(BadInput, match=reason) as fault:
        musicxml_read.read(data, name="song.mxl")

    assert str(fault.value).startswith("song.mxl")


def test_a_locked_archive_is_refused() -> None:
    """An archive with a password says that it is locked."""
    data = bytearray(archive(("score.xml", score(FOUR)), container=None))
    for at in (6, data.index(b"PK\x01\x02") + 8):
        data[at : at + 2] = struct.pack("<H", 1)

    with pytest.raises(BadInput, match="locked"):
        musicxml_read.read(bytes(data))


def test_an_archive_of_many_files_is_refused() -> None:
    """A list of files without an end is not read."""
    members = [(f"{at}.xml", b"") for at in range(musicxml_file.MAX_MEMBERS + 1)]
    with pytest.raises(BadInput, match="more than 1,000 files"):
        musicxml_read.read(archive(*members, container=None))
