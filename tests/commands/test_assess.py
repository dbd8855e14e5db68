"""`trainer assess`: takes from files and saved sessions, as text and as the promised JSON."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import mido
import pytest
import takes
from sessions import header, play

from trainer import cli
from trainer.archive.journal import Journal
from trainer.archive.session_file import open_session
from trainer.archive.summary import judge_session, session_summary
from trainer.kit.hits import Strike
from trainer.pattern.library import load_pattern
from trainer.practice.course import Course, Pass
from trainer.settings import recordings_folder

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

PATTERN = "climb-around"


def take_file(path: Path, strikes: Sequence[Strike], bpm: float = 96.0) -> Path:
    """Write strokes as a MIDI file of that tempo."""
    file = mido.MidiFile(ticks_per_beat=960)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm)))
    now = 0
    for strike in strikes:
        tick = round(strike.time_s * 960 * bpm / 60)
        track.append(
            mido.Message(
                "note_on", channel=9, note=strike.note, velocity=strike.velocity, time=tick - now
            )
        )
        now = tick
    file.save(path)
    return path


def played(passes: int = 2, tempo: float = 96.0, start_s: float = 5.3) -> takes.Take:
    """Return a made take of the pattern."""
    one = load_pattern(PATTERN)
    length = float(one.length) * 60.0 / tempo
    course = Course(one, tuple(Pass(n, tempo, start_s + n * length) for n in range(passes)))
    return takes.make(course, takes.Player(lag=0.0), 4)


def as_json(capsys: pytest.CaptureFixture[str], *args: str) -> Any:
    """Run the command and return its document."""
    assert cli.run(["assess", "--json", *args]) == 0
    return json.loads(capsys.readouterr().out)


def complaint(capsys: pytest.CaptureFixture[str], *args: str) -> str:
    """Run the command, which refuses, and return what it says."""
    assert cli.run(["assess", *args]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    return shown.err


def test_json_has_the_promised_shape(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Keys, hits in file order from 0, pairs that point at each other, and the right targets."""
    take = played()
    path = take_file(tmp_path / "take.mid", take.strikes)

    document = as_json(capsys, str(path), "--pattern", PATTERN)

    assert {"pattern", "tempo", "start_s", "targets", "hits", "summary"} <= document.keys()
    assert document["tempo"] == 96.0
    assert document["start_s"] == pytest.approx(5.3, abs=0.03)
    assert [hit["index"] for hit in document["hits"]] == list(range(len(take.strikes)))
    assert [hit["note"] for hit in document["hits"]] == [one.note for one in take.strikes]
    for target in document["targets"]:
        if target["hit"] is not None:
            assert document["hits"][target["hit"]]["target"] == target["index"]
        else:
            assert (target["outcome"], target["offset_ms"]) == ("missed", None)
    assert takes.share_right(take, tuple(hit["target"] for hit in document["hits"])) > 0.975


def test_text_says_what_was_found(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The text names the passes, the tempo and where it is from, the start, and how sure it is."""
    path = take_file(tmp_path / "take.mid", played().strikes, bpm=120.0)

    assert cli.run(["assess", str(path), "--pattern", PATTERN]) == 0
    text = capsys.readouterr().out

    assert "2 passes" in text
    assert "BPM, as played (the file says 120, which does not fit)" in text
    assert "Start: 5.3" in text
    assert "Sure: 9" in text


def test_tempo_and_start_are_obeyed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is asked for is used, also where the strokes say otherwise."""
    path = take_file(tmp_path / "take.mid", played().strikes)

    document = as_json(capsys, str(path), "--pattern", PATTERN, "--tempo", "90", "--start", "5.25")

    assert (document["tempo"], document["start_s"]) == (90.0, 5.25)
    assert document["targets"][0]["time_s"] == 5.25


def test_a_saved_session_is_assessed_as_it_was(capsys: pytest.CaptureFixture[str]) -> None:
    """Checking a saved session gives its own outcomes and the saved numbers, bit for bit."""
    journal = Journal(recordings_folder(), header())
    play(journal)
    path = journal.finish(session_summary(journal.session()))
    assert path
    session = open_session(path)

    document = as_json(capsys, str(path))

    assert document["summary"] == session.summary
    assert [one["target"] for one in document["hits"]] == list(judge_session(session).hit_target)


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--pattern", "no-such-pattern"], "no pattern"),
        (["--pattern", PATTERN, "--tempo", "fast"], "no number"),
        (["--pattern", PATTERN, "--tempo", "500"], "out of range"),
        (["--pattern", PATTERN, "--start", "nan"], "no number"),
        (["--pattern", "feet-quarters"], "too few"),
        (["--pattern", "climb-samba"], "not found in the take"),
    ],
)
def test_bad_input_is_reported_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], args: list[str], words: str
) -> None:
    """What cannot be checked is refused with a sentence and exit status 2."""
    path = take_file(tmp_path / "take.mid", played().strikes)

    assert words in complaint(capsys, str(path), *args)


@pytest.mark.parametrize("content", [b"", b"not a MIDI file at all", b"MThd\0\0\0\6\0"])
def test_an_unreadable_file_is_reported_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes
) -> None:
    """A file that is no take is named, without a traceback."""
    path = tmp_path / "broken.mid"
    path.write_bytes(content)

    assert "broken.mid" in complaint(capsys, str(path), "--pattern", PATTERN)


def test_a_take_without_notes_is_reported_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file with no strokes says so."""
    path = take_file(tmp_path / "silent.mid", [])

    assert "no notes" in complaint(capsys, str(path), "--pattern", PATTERN)


def test_a_take_of_one_note_is_reported_in_the_singular(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One note is too little to find a pattern in, and the sentence counts it rightly."""
    path = take_file(tmp_path / "one.mid", played().strikes[:1])

    assert "only 1 note:" in complaint(capsys, str(path), "--pattern", PATTERN)


def test_the_kit_that_is_named_reads_the_notes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A kit that sends other notes is read through its own file."""
    kit = tmp_path / "other.toml"
    kit.write_text('title = "Other"\n[notes]\n61 = "snare"\n', encoding="utf-8")
    take = played()
    moved = [replace(one, note=61 if one.note == 38 else one.note) for one in take.strikes]
    path = take_file(tmp_path / "take.mid", moved)

    document = as_json(capsys, str(path), "--pattern", PATTERN, "--kit", str(kit))

    assert takes.share_right(take, tuple(hit["target"] for hit in document["hits"])) > 0.975


@pytest.mark.parametrize("start", ["50000", "1e9", "-5"])
def test_a_start_outside_the_take_is_refused_with_its_bounds(
    start: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence says where the take is, and nothing is judged."""
    path = take_file(tmp_path / "take.mid", played(1).strikes)
    reported = complaint(capsys, str(path), "--pattern", PATTERN, "--start", start)
    assert "is outside the take, which goes from 0 to " in reported
    assert reported.count("\n") == 1


def test_the_files_tempo_is_not_called_wrong_where_it_was_not_looked_at(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`--tempo auto` names the file's tempo beside its own; no start is minus zero."""
    early = [replace(one, time_s=max(0.0, one.time_s)) for one in played(start_s=0.0).strikes]
    path = take_file(tmp_path / "take.mid", early)
    assert cli.run(["assess", str(path), "--pattern", PATTERN, "--tempo", "auto"]) == 0
    reported = capsys.readouterr().out
    assert "BPM, as played (the file says 96)." in reported
    assert "does not fit" not in reported
    assert "-0.000" not in reported


def test_a_flood_on_one_pad_does_not_read_like_success(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A thousand notes a second: hardly anything belongs together, and the figures say so.

    Ten times as many are more than a MIDI cable carries (31,250 baud, MIDI 1.0): refused.
    """
    flood = [Strike(count / 1000, 38, 90) for count in range(5000)]
    path = take_file(tmp_path / "flood.mid", flood)
    options = ["--pattern", PATTERN, "--tempo", "96", "--start", "0"]
    assert cli.run(["assess", str(path), *options]) == 0
    reported = capsys.readouterr().out
    assert "Sure: 0% of notes and strokes pair up. This is hardly" in reported
    assert "figures mean little" in reported

    path = take_file(
        tmp_path / "more.mid", [Strike(count / 10_000, 38, 90) for count in range(9999)]
    )
    assert "strokes in one second" in complaint(capsys, str(path), *options)


def test_another_latency_for_a_session_is_pointed_to_replay(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`assess` keeps a session's own latency and says which command takes another."""
    journal = Journal(recordings_folder(), header())
    play(journal)
    assert "replay SESSION --latency MS" in complaint(capsys, str(journal.path), "--latency", "5")


def test_the_old_name_still_works_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`score` gives the same document; standard error names the new command."""
    args = [str(take_file(tmp_path / "take.mid", played(1).strikes)), "--pattern", PATTERN]
    document = as_json(capsys, *args)

    assert cli.run(["score", "--json", *args]) == 0

    shown = capsys.readouterr()
    assert json.loads(shown.out) == document
    assert "“trainer score” is now “trainer assess”" in shown.err
    assert shown.err.count("\n") == 1
    assert "score" not in cli.help_text()
