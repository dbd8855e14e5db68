"""`trainer patterns`: what it prints, as text and JSON, and how it refuses."""

from __future__ import annotations

import json
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from trainer import cli
from trainer.pattern import library
from trainer.show.pattern_words import SKETCH_COLUMNS, sketch_line


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Return status, output and error output of one command line."""
    status = cli.run(["patterns", *words])
    said = capsys.readouterr()
    return status, said.out, said.err


def document(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    """Return the JSON document of one command line."""
    status, out, _ = run(capsys, *words, "--json")

    assert status == 0
    return json.loads(out)


def test_the_list_holds_at_least_eighty_patterns(capsys: pytest.CaptureFixture[str]) -> None:
    """Every shipped file is listed with name, title, tags, level and limbs, sorted by name."""
    listed = document(capsys, "list")["patterns"]
    names = [one["name"] for one in listed]

    assert len(names) >= 80
    assert names == sorted(names)
    assert all(one["title"] and one["tags"] and 1 <= one["level"] <= 5 for one in listed)
    assert all(one["limbs"] and one["fault"] is None for one in listed)


@pytest.mark.parametrize(
    ("options", "rule"),
    [
        (["--tag", "rudiment"], lambda one: "rudiment" in one["tags"]),
        (
            ["--tag", "flams", "--tag", "accents"],
            lambda one: {"flams", "accents"} <= {*one["tags"]},
        ),
        (["--level", "2"], lambda one: one["level"] == 2),
        (["--limb", "LF"], lambda one: "LF" in one["limbs"]),
        (["samba"], lambda one: "samba" in json.dumps(one).lower()),
    ],
)
def test_the_list_is_filtered_by_what_is_trained(
    capsys: pytest.CaptureFixture[str], options: list[str], rule: Any
) -> None:
    """A filter keeps those that fit, all of them and no others."""
    everything = document(capsys, "list")["patterns"]
    kept = document(capsys, "list", *options)["patterns"]

    assert kept
    assert len(kept) < len(everything)
    assert kept == [one for one in everything if rule(one)]


@pytest.mark.parametrize(
    ("tag", "words"), [("rudimnt", 'did you mean "rudiment"'), ("zzz", "choose accents")]
)
def test_an_unknown_tag_gets_the_nearest_or_all(
    capsys: pytest.CaptureFixture[str], tag: str, words: str
) -> None:
    """A tag nobody has is reported with those there are."""
    status, _, said = run(capsys, "list", "--tag", tag)

    assert status == 2
    assert words in said


def test_show_has_the_promised_shape(capsys: pytest.CaptureFixture[str]) -> None:
    """Title, meter, beats, and each note's beat, voice, limb, level and zone; beats as text."""
    shown = document(capsys, "show", "sextuplets-split")

    assert {"title", "meter", "beats", "notes"} <= shown.keys()
    assert all({"beat", "voice", "limb", "level", "zone"} <= note.keys() for note in shown["notes"])
    assert [Fraction(note["beat"]) for note in shown["notes"][:3]] == [
        0,
        Fraction(1, 6),
        Fraction(1, 3),
    ]
    assert shown["beats"] == "4"


def test_show_prints_counts_moves_and_the_grid(capsys: pytest.CaptureFixture[str]) -> None:
    """The text says strokes by limb and drum, the moves, and the grid with its sticking."""
    _, out, _ = run(capsys, "show", "fives-and-threes")

    assert "192 strokes" in out
    assert "strokes: right hand 96, left hand 96" in out
    assert "drums: tom2 36, snare 120, floor 36" in out
    assert "moves: LH snare to tom2 8, RH snare to tom2 8" in out
    assert "SN |---oooooooooo---|" in out
    assert "RLRLRLRLRLRLRLRL" in out


def test_show_says_what_was_assumed(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Without a sticking the hands strictly alternate, and the text says so."""
    path = tmp_path / "plain.toml"
    path.write_text('[hands]\npath = "snare x8, floor x8"', encoding="utf-8")
    _, out, _ = run(capsys, "show", str(path))

    assert "assumed: no sticking is written: the hands strictly alternate" in out


def test_a_rudiment_is_shown_over_a_path(capsys: pytest.CaptureFixture[str]) -> None:
    """Options of `show` change the pattern as changes after its name do."""
    by_option = document(capsys, "show", "flam-tap", "--path", "snare x3, tom2", "--feet", "samba")
    by_name = document(capsys, "show", "flam-tap path='snare x3, tom2' feet=samba")

    assert by_option == by_name
    assert {note["voice"] for note in by_option["notes"]} == {"snare", "tom2", "kick", "pedal"}


def test_make_prints_a_file_that_is_read_back(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """What `make` prints is a pattern file; its numbers are those asked for."""
    options = ["--sticking", "RLRR LRLL", "--path", "snare x3, tom2", "--feet", "samba"]
    _, out, _ = run(
        capsys, "make", *options, "--tags", "mine new", "--level", "3", "--tempo", "72.5"
    )
    path = tmp_path / "made.toml"
    path.write_text(out, encoding="utf-8")
    made = library.load_pattern(str(path))

    assert (made.level, made.tempo, made.tags) == (3, 72.5, ("mine", "new"))
    assert "".join(str(n.limb)[0] for n in made.notes if str(n.limb)[1] == "H") == "RLRRLRLL" * 2


def test_make_saves_into_the_players_folder(capsys: pytest.CaptureFixture[str]) -> None:
    """A saved pattern is listed and loads by its name; its name is not taken twice."""
    assert run(capsys, "make", "--save", "my-own", "--sticking", "RLL", "--length", "3")[0] == 0
    assert library.load_pattern("my-own").strokes == 48
    assert "my-own" in [entry.name for entry in library.catalogue()]

    status, _, said = run(capsys, "make", "--save", "my-own", "--sticking", "R")
    assert status == 2
    assert "there is such a pattern already" in said


@pytest.mark.parametrize("name", ["../up", "a/b", "a b", ".hidden", "x" * 99])
def test_a_name_that_is_no_file_name_is_refused(
    capsys: pytest.CaptureFixture[str], name: str
) -> None:
    """Nothing is written outside the player's folder."""
    status, _, said = run(capsys, "make", "--save", name, "--sticking", "R")

    assert (status, "cannot be a name" in said) == (2, True)


def test_check_shows_every_fault_of_every_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """All faults of all files come at once, each with file, line and key; status 2."""
    one, two = tmp_path / "one.toml", tmp_path / "two.toml"
    one.write_text(
        'level = 7\n[hands]\nsticking = "R L L"\npath = "snare tomm"\n', encoding="utf-8"
    )
    two.write_text('[feet]\nkick = "x..x."\nostinatoo = "samba"\n', encoding="utf-8")
    status, out, said = run(capsys, "check", str(one), "climb-odd-numbers", str(two))
    lines = said.splitlines()

    assert status == 2
    assert "climb-odd-numbers: no faults" in out
    assert [line.split(": ")[0] for line in lines] == [
        "one.toml, line 1, level",
        "one.toml, line 3, hands.sticking",
        "one.toml, line 4, hands.path, drum 2",
        "two.toml, line 2, feet.kick",
        "two.toml, line 3, feet.ostinatoo",
    ]


def test_a_hostile_title_reaches_the_terminal_as_text(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Markup is printed as it is; an escape in a title is refused without being sent on."""
    marked, escaped = tmp_path / "marked.toml", tmp_path / "escaped.toml"
    marked.write_text('title = "[bold red]x[/]"\nhands = "RL"', encoding="utf-8")
    escaped.write_text('title = "\\u001b[2Jx"\nhands = "RL"', encoding="utf-8")

    assert run(capsys, "show", str(marked))[1].startswith("[bold red]x[/]\n")
    status, out, said = run(capsys, "show", str(escaped))
    assert status == 2
    assert "\x1b" not in out + said


def test_listing_loads_neither_numbers_nor_ports_nor_screens() -> None:
    """A fresh process that lists patterns imports no numpy, mido, rtmidi or textual."""
    script = (
        "import sys; from trainer import cli; cli.run(['patterns', 'list']); "
        "print(sorted({'numpy', 'mido', 'rtmidi', 'textual', 'trainer.pattern.language.notation'}"
        " & sys.modules.keys()), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(cli.__file__).parent.parent,
    )

    assert done.stderr.strip() == "[]"


def test_the_language_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """The reference of the language is at hand in the terminal."""
    status, out, _ = run(capsys, "language")

    assert status == 0
    assert "[hands]" in out
    assert max(map(len, out.splitlines())) <= 100


def test_check_refuses_what_playing_would_refuse(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A file that no session could hold is no faultless pattern: the same rules, the same words."""
    times, unit = tmp_path / "times.txt", tmp_path / "unit.toml"
    times.write_text('sections = ["1-1 x20001 a"]\nSN |o-o-o-o-|\n')
    unit.write_text('tempo_unit = "64s"\nhands = "R L"\n')
    status, out, said = run(capsys, "check", str(times), str(unit))

    assert (status, out) == (2, "")
    assert said.splitlines() == [
        f"{times.name}, sections[0].times: must be a whole number from 1 to 20000.",
        f"{unit}, tempo_unit: must be a note value in quarter notes.",
    ]
    for path, fault in zip((times, unit), said.splitlines(), strict=True):
        play = ["play", str(path), "--port", "simulated", "--fast", "--plain", "--passes", "1"]
        assert cli.run([*play, "--recordings", str(tmp_path / "recordings")]) == 2
        assert fault.partition(", ")[2] in capsys.readouterr().err


def test_the_list_reads_like_a_contents_page(capsys: pytest.CaptureFixture[str]) -> None:
    """Each pattern once, in chapters by family with the easiest first, or by level."""
    names = sorted(one.name for one in library.catalogue())
    for by in ("family", "level", "name"):
        assert cli.run(["patterns", "list", "--by", by]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert all(len(line) <= 79 for line in lines)
        listed = [
            line.split()[0] for line in lines if line.split()[:1] and line.split()[0] in names
        ]
        assert sorted(listed) == names
    assert cli.run(["patterns", "list", "--tag", "rudiment"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[1] == "Rudiments"
    levels = [int(line.split()[1]) for line in lines[2:-1] if line.split()[0] in names]
    assert levels == sorted(levels)


def test_the_list_by_way_and_by_what_was_practised(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """By way in the order of its steps; what was never played is not in the player's order."""
    assert cli.run(["patterns", "list", "--by", "way"]) == 0
    listed = capsys.readouterr().out
    own = listed[listed.index("\nTwo drums\n") :]
    assert own.index("two-drums-split") < own.index("two-drums-fours")
    assert cli.run(["patterns", "list", "--by", "played"]) == 0
    assert "flam" not in capsys.readouterr().out


def test_a_sketch_is_one_line_of_drums(capsys: pytest.CaptureFixture[str]) -> None:
    """Beat by beat, as tab names them; long bars are cut between two drums."""
    assert cli.run(["patterns", "list", "two-drums-fours", "--sketch"]) == 0
    assert "  SN SN SN SN · FT FT FT FT · SN SN SN SN · FT FT FT FT" in capsys.readouterr().out
    for one in library.catalogue():
        line = sketch_line(library.load_pattern(one.name))
        assert line
        assert len(line) <= SKETCH_COLUMNS
