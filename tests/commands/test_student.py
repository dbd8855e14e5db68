"""`trainer student`: a week from the assignment to the page for a parent, through the commands."""

from __future__ import annotations

import json
import os
import shutil
from datetime import date
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest

from trainer import cli
from trainer.archive import students
from trainer.archive.routines import load_routine
from trainer.archive.session_list import list_sessions
from trainer.file_system import user_folder
from trainer.pattern import library

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

WEEK = """
title = "Fives, both leads"
week = {day}
word = "Slow first."
[[block]]
kind = "warm-up"
pattern = "fives-and-threes"
tempo = 70
minutes = 5
aim = 20
[[block]]
kind = "rest"
minutes = 2
[[block]]
kind = "ladder"
pattern = "our-own lead=left"
minutes = 10
aim = 300
"""


def said(capsys: pytest.CaptureFixture[str], *argv: str, status: int = 0) -> str:
    """Run a command and return what it printed; a student's folder is its own only meanwhile."""
    home = os.environ["TRAINER_HOME"]
    try:
        assert cli.run([*argv]) == status
    finally:
        os.environ["TRAINER_HOME"] = home
    found = capsys.readouterr()
    return found.out + found.err


@pytest.fixture
def week(tmp_path: Path) -> Path:
    """Return a routine file of this week, around a shipped pattern and one of our own."""
    shutil.copy(library.find_pattern("fives-and-threes"), tmp_path / "own.toml")
    own = user_folder("patterns")
    own.mkdir(parents=True)
    shutil.copy(tmp_path / "own.toml", own / "our-own.toml")
    path = tmp_path / "week.toml"
    path.write_text(WEEK.format(day=date.today().isoformat()))
    return path


def demo(folder: Path, name: str, seed: int) -> None:
    """Have a session of today played into a folder, as if on a kit."""
    options = ["--fast", "--plain", "--passes", "8", "--tempo", "70", "--seed", str(seed)]
    assert cli.run(["demo", name, *options, "--recordings", str(folder)]) == 0
    for path in folder.glob("*.jsonl"):
        text = path.read_text()
        assert "simulated player" in text or '"source":"Kit"' in text
        path.write_text(text.replace('"source":"simulated player"', '"source":"Kit"', 1))


def test_without_students_there_are_words(capsys: pytest.CaptureFixture[str]) -> None:
    """The emptiest case of every action."""
    assert "No students yet" in said(capsys, "student")
    for action in (["show", "Mara"], ["report", "Mara"], ["take", "Mara", "x"], ["remove", "M"]):
        assert "there is no student" in said(capsys, "student", *action, status=2)
    assert "there is no student" in said(capsys, "--student", "Mara", "history", status=2)
    assert "a name is missing" in said(capsys, "--student", status=2)


def test_a_week_from_assignment_to_report(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, week: Path
) -> None:
    """Assigned, practised on another computer, sent, counted once, reported by its own files."""
    said(capsys, "student", "add", "Mara")
    given = said(capsys, "student", "assign", "Mara", str(week))
    assert "with our-own.toml" in given
    sent = tmp_path / "sent"
    for seed in (1, 2):
        demo(sent, "fives-and-threes", seed)
    files = sorted(map(str, sent.glob("*.jsonl")))
    capsys.readouterr()
    for _ in range(2):
        said(capsys, "student", "take", "Mara", *files)

    shown = said(capsys, "student", "show", "Mara")
    assert "assigned: Fives, both leads" in shown
    reported = said(capsys, "student", "report", "Mara")
    (entry, other) = students.known_sessions(students.find("Mara")).entries
    minutes = round((entry.seconds + other.seconds) / 60)
    assert f"Practised: {minutes} minutes on 1 day" in reported
    best = max(one.clean_tempo or 0.0 for one in (entry, other))
    clean = f"clean at {best:g} BPM, aim 20 BPM, reached" if best else "not clean yet, aim 20 BPM"
    assert clean in reported
    assert "not played yet, aim 300 BPM" in reported
    assert all(len(line) <= 79 for line in (shown + reported).splitlines())


def test_nothing_of_one_student_is_in_anothers_folder(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, week: Path
) -> None:
    """Read back as text: no name, no session, no assignment of the other."""
    for name in ("Mara", "Jun"):
        said(capsys, "student", "add", name)
    said(capsys, "student", "assign", "Mara", str(week))
    sent = tmp_path / "sent"
    demo(sent, "fives-and-threes", 1)
    said(capsys, "student", "take", "Mara", *map(str, sent.glob("*.jsonl")))
    said(capsys, "--student", "Jun", "history")
    for name in ("Mara", "Jun"):
        said(capsys, "student", "report", name, "-o", str(students.find(name).home / "week.svg"))
    for one in students.find("Jun").home.rglob("*"):
        assert not one.is_file() or b"Mara" not in one.read_bytes()
        assert one.suffix != ".jsonl"


def test_every_command_works_in_a_students_folder(capsys: pytest.CaptureFixture[str]) -> None:
    """`--student NAME` before a command makes all folders the student's."""
    said(capsys, "student", "add", "Mara")
    demo_options = ["--fast", "--plain", "--passes", "1"]
    said(capsys, "--student", "Mara", "demo", "fives-and-threes", *demo_options)
    assert len(list(students.find("Mara").recordings.glob("*.jsonl"))) == 1
    assert not user_folder("recordings").exists()


def test_an_older_assignment_of_the_same_name_is_kept(
    capsys: pytest.CaptureFixture[str], week: Path
) -> None:
    """The same twice is one file, another text gets another name."""
    said(capsys, "student", "add", "Mara")
    for _ in range(2):
        said(capsys, "student", "assign", "Mara", str(week))
    week.write_text(week.read_text().replace("Slow first", "Slower"))
    said(capsys, "student", "assign", "Mara", str(week))
    kept = sorted(path.name for path in students.find("Mara").routines.iterdir())
    assert kept == ["week-2.toml", "week.toml"]


def test_an_assignment_that_names_a_missing_pattern_is_refused(
    capsys: pytest.CaptureFixture[str], week: Path
) -> None:
    """With the line of the block; nothing is written."""
    said(capsys, "student", "add", "Mara")
    week.write_text(week.read_text().replace("our-own lead=left", "nowhere"))
    fault = said(capsys, "student", "assign", "Mara", str(week), status=2)
    assert 'there is no pattern "nowhere"' in fault
    assert "line 16" in fault
    assert not students.find("Mara").routines.exists()


def test_a_recorded_take_is_taken_in_once(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A MIDI file becomes a session of the student's, by its bytes, and counts for an aim."""
    said(capsys, "student", "add", "Mara")
    take = tmp_path / "lesson.mid"
    said(capsys, "patterns", "export", "fives-and-threes", "-o", str(take))
    arguments = ["student", "take", "Mara", str(take), "--pattern", "fives-and-threes"]
    assert "lesson.mid: taken in as Fives and threes" in said(capsys, *arguments)
    assert "known already" in said(capsys, *arguments)
    assert "88 BPM, clean at 88" in said(capsys, "--student", "Mara", "history", "--plain")
    replayed = said(capsys, "--student", "Mara", "replay", "--json")
    assert json.loads(replayed)["summary"]["counts"]["missed"] == 0
    assert "Every aim" not in said(capsys, "student", "report", "Mara")


def test_takes_count_together_whatever_their_files_are_called(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A later take under another name that is not clean takes nothing back."""
    said(capsys, "student", "add", "Mara")
    for name, pattern in (("first", "fives-and-threes"), ("later", "fives-and-threes tempo=70")):
        take = tmp_path / f"{name}.mid"
        said(capsys, "patterns", "export", pattern, "-o", str(take))
        said(capsys, "student", "take", "Mara", str(take), "--pattern", "fives-and-threes")
    entries = students.known_sessions(students.find("Mara")).entries
    assert len(entries) == 2
    assert len({one.conditions for one in entries}) == 1


def test_a_take_that_sounds_like_several_patterns_is_not_put_under_one(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Hands cannot be heard: which one it was is asked for."""
    said(capsys, "student", "add", "Mara")
    take = tmp_path / "roll.mid"
    said(capsys, "patterns", "export", "single-stroke-roll times=8", "-o", str(take))
    fault = said(capsys, "student", "take", "Mara", str(take), status=1)
    assert "not sure which pattern" in fault
    assert "single-stroke-roll" in fault


def test_pages_are_drawn_and_read_back(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, week: Path
) -> None:
    """Every line of the assignment is on its page, seven boxes for each block but the rest."""
    said(capsys, "student", "add", "Mara")
    page = tmp_path / "week.svg"
    said(capsys, "student", "print", str(week), "--student", "Mara", "-o", str(page))
    root = ElementTree.fromstring(page.read_text())
    texts = " ".join(one.text or "" for one in root.iter() if one.tag.endswith("text"))
    for words in ("Mara: Fives, both leads", "Slow first.", "to be clean at 300 BPM", "Rest"):
        assert words in texts
    boxes = [one for one in root.iter() if one.tag.endswith("rect") and one.get("class") == "axis"]
    assert len(boxes) == 2 * 7
    wrong = said(capsys, "student", "print", str(week), "-o", str(tmp_path / "x.txt"), status=2)
    assert "a page is .svg or .pdf" in wrong


def test_a_students_own_pattern_is_never_replaced(
    capsys: pytest.CaptureFixture[str], week: Path
) -> None:
    """A later version of what was handed over is put in place; what the student wrote is kept."""
    said(capsys, "student", "add", "Mara")
    said(capsys, "student", "assign", "Mara", str(week))
    handed = students.find("Mara").home / "patterns" / "our-own.toml"
    own = user_folder("patterns") / "our-own.toml"
    own.write_text(own.read_text().replace("tempo = 88", "tempo = 90"))
    said(capsys, "student", "assign", "Mara", str(week))
    assert handed.read_text() == own.read_text()

    handed.write_text("# Mara's\n" + handed.read_text())
    own.write_text(own.read_text().replace("tempo = 90", "tempo = 92"))
    said(capsys, "student", "assign", "Mara", str(week))
    assert handed.read_text().startswith("# Mara's")
    assert [one.name for one in handed.parent.iterdir()] == ["our-own.toml"]
    newest = max(
        students.find("Mara").routines.iterdir(), key=lambda one: one.name == "week-3.toml"
    )
    (block,) = (one for one in load_routine(newest).blocks if one.source)
    assert library.load_pattern(block.opened).tempo == 92


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Return what goes to another computer, on which nothing of ours is."""
    return lambda: monkeypatch.setenv("TRAINER_HOME", str(tmp_path / "elsewhere"))


def test_an_assignment_is_one_file_that_is_played_anywhere(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, week: Path, elsewhere: Callable[[], None]
) -> None:
    """With the pattern a pattern takes in, a MIDI file, and a namesake that is left as it is."""
    own = user_folder("patterns")
    (own / "inner-one.toml").write_text('title = "Inner"\ntempo = 77\nhands = "R L"\n')
    (own / "our-own.toml").write_text('title = "Ours"\ntempo = 77\nphrase = "inner-one x2"\n')
    said(capsys, "patterns", "export", "fives-and-threes", "-o", str(own / "as midi.mid"))
    more = '[[block]]\nkind = "warm-up"\npattern = "as midi"\nminutes = 1\n'
    week.write_text(week.read_text().replace(" lead=left", "") + "# last words\n" + more)
    packed = tmp_path / "sent.toml"
    printed = said(capsys, "student", "pack", str(week), "-o", str(packed))
    assert all(one in printed for one in ("our-own.toml", "inner-one.toml", "as midi.mid"))
    assert "# last words" in packed.read_text()
    again = tmp_path / "again.toml"
    said(capsys, "student", "pack", str(packed), "-o", str(again))
    assert again.read_text() == packed.read_text()

    elsewhere()
    namesake = user_folder("patterns") / "inner-one.toml"
    namesake.parent.mkdir(parents=True)
    namesake.write_text('title = "Mine"\nhands = "L R"\n')
    said(capsys, "routine", str(packed), "--check")
    assert [one.name for one in namesake.parent.iterdir()] == [namesake.name]
    played = said(
        capsys, "routine", str(packed), "--port", "simulated", "--fast", "--plain", "--again"
    )
    assert "inner-one.toml: the routine's own is played" in played
    assert namesake.read_text().startswith('title = "Mine"')
    assert library.load_pattern("our-own").title == "Ours"
    names = {one.pattern for one in list_sessions(user_folder("recordings")).entries}
    assert names == {"fives-and-threes", "our-own", "as midi"}


@pytest.mark.parametrize(
    ("carried", "words"),
    [
        ('file = "../our-own.toml"\ntext = ""', "is no name of a pattern file"),
        ('file = "our-own.exe"\ntext = ""', "is no name of a pattern file"),
        ('file = ".our-own.toml"\ntext = ""', "is no name of a pattern file"),
        ('file = "our-own.toml"', "wants either text or base64"),
        ('file = "our-own.toml"\ntext = ""\nbase64 = ""', "wants either text or base64"),
        ('file = "our-own.mid"\nbase64 = "no!"', "is not base64"),
        ('file = "our-own.mid"\nbase64 = ""', "our-own.mid"),
        ('text = ""', "file is missing"),
        ("file = 3\ntext = 4", "is not a text"),
        ('file = "our-own.toml"\ntext = "sticking = 5"', "our-own.toml, sticking"),
        ('file = "our-own.toml"\ntext = "phrase = \'our-own\'"', "takes itself in"),
        ('file = "a.toml"\ntext = ""\n[[pattern]]\nfile = "A.txt"\ntext = ""', "carried twice"),
        ('file = "a.toml"\ntext = ""\n' + '[[pattern]]\nfile = "a.toml"\n' * 100, "more than 100"),
    ],
)
def test_faults_in_carried_patterns_have_their_place(
    capsys: pytest.CaptureFixture[str], week: Path, carried: str, words: str
) -> None:
    """A file name that leaves the folder, no content, no pattern, itself inside, too many."""
    week.write_text(f"{week.read_text()}\n[[pattern]]\n{carried}\n")
    fault = said(capsys, "routine", str(week), "--check", status=2)
    assert words in fault
    assert "week.toml, " in fault
    assert not list(user_folder(".").rglob("*.exe"))


def test_sessions_of_another_student_or_clock_are_named_and_not_counted(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Dropped into the folder by hand, dated in the future, cut off; a damaged routine beside."""
    for name in ("Mara", "Jun"):
        said(capsys, "student", "add", name)
    demo(tmp_path / "sent", "fives-and-threes", 1)
    (sent,) = (tmp_path / "sent").glob("*.jsonl")
    text, mara = sent.read_text(), students.find("Mara")
    cut = tmp_path / "cut.jsonl"
    cut.write_text("".join(text.splitlines(keepends=True)[:40]))
    assert "cut off; it counts once the whole one is sent" in said(
        capsys, "student", "take", "Jun", str(cut)
    )
    mara.recordings.mkdir(parents=True)
    mara.routines.mkdir(parents=True)
    (mara.routines / "broken.toml").write_text("title = [")
    (mara.recordings / "one.jsonl").write_text(
        text.replace('"player":"simulated player"', '"player":"jun"', 1)
    )
    future = text.replace(f'"started":"{date.today().year}', '"started":"2090', 1)
    (mara.recordings / "two.jsonl").write_text(future)
    for action in ("show", "report"):
        printed = " ".join(said(capsys, "student", action, "Mara").split())
        assert "this session is Jun's; take it in for Jun" in printed
        assert "is dated 2090-" in printed
        assert "broken.toml,line1" in printed.replace(" ", ""), "a path breaks anywhere"
    assert "never, 0 minutes" in said(capsys, "student", "show", "Mara")
    assert "Nothing was practised." in said(capsys, "student", "report", "Mara")


def test_a_report_has_the_figures_of_the_history(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Read back from the picture: minutes and clean tempos are those of the sessions."""
    said(capsys, "student", "add", "Mara")
    for name in ("fives-and-threes", "single-paradiddle"):
        for seed in (1, 2):
            demo(tmp_path / name, name, seed)
        said(capsys, "student", "take", "Mara", *map(str, (tmp_path / name).glob("*.jsonl")))
    entries = students.known_sessions(students.find("Mara")).entries
    expected = [f"{round(sum(one.seconds for one in entries) / 60)} minutes on 1 day"]
    for name in ("fives-and-threes", "single-paradiddle"):
        clean = [one.clean_tempo for one in entries if one.pattern == name and one.clean_tempo]
        expected.append(f"clean at {max(clean):g} BPM" if clean else "not clean yet")
        expected.append(next(one.title for one in entries if one.pattern == name))
    page = tmp_path / "week.svg"
    said(capsys, "student", "report", "Mara", "-o", str(page))
    root = ElementTree.fromstring(page.read_text())
    found = " ".join(one.text or "" for one in root.iter() if one.tag.endswith("text"))
    for words in expected:
        assert words in found
    assert found.count("first to last session") + found.count("at first,") >= 2
