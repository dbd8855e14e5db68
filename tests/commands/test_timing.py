"""`trainer timing`: figures of this machine, and what it says about them."""

import json

import pytest
from conftest import jack_only

from trainer import cli
from trainer.actions.kit_setup import LoopLatency
from trainer.engine import timing_check
from trainer.engine.timing_check import timing_report
from trainer.midi.timing import DriverClock
from trainer.show import kit_words
from trainer.show.kit_words import timing_lines

FINE = {"count": 100, "median_ms": 0.1, "p99_ms": 0.5, "worst_ms": 0.9}


def found(trusted_ms, **other):
    """A document as the command prints it."""
    loop = {
        "system": "jack",
        "sent": 100,
        "lost": 1,
        "sent_late": FINE,
        "stamps_off": FINE,
        "way_ms": 0.7,
        "step_ms": 0.0,
    }
    whole = {"wakes_late": FINE, "loop": loop, "no_loop": None, "terminal": None}
    return {**whole, "trusted_ms": trusted_ms, **other}


@jack_only  # inside ALSA the way is shorter than what can be measured
@pytest.mark.jack
def test_a_loop_inside_jack_is_measured(jack, capsys):
    """Over JACK notes go round, each back before the next; the figures are one JSON document."""
    assert cli.run(["timing", "--seconds", "3", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    loop = document["loop"]
    assert loop["sent"] > 30
    assert loop["lost"] < loop["sent"] / 2
    assert 0 < loop["way_ms"] < 3000 / loop["sent"]
    assert document["trusted_ms"] >= loop["stamps_off"]["p99_ms"] - 0.001


def test_without_midi_the_rest_is_measured(monkeypatch, capfd):
    """Where there is no MIDI system the waking is measured, and the reason is reported."""
    monkeypatch.setenv("TRAINER_MIDI_API", "jack")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    assert cli.run(["timing", "--seconds", "1"]) == 0
    out, err = capfd.readouterr()
    assert "no MIDI system answers" in out
    assert "what MIDI adds is not known" in out
    assert err == ""


@pytest.mark.parametrize(
    "arguments", [["--seconds", "0"], ["--seconds", "600"], ["--out", "only one end"]]
)
def test_impossible_wishes_are_bad_input(arguments, capsys):
    """A duration out of range and a loop with one end are bad input."""
    assert cli.run(["timing", *arguments]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_verdict_names_the_limit_and_what_to_do_when_it_is_coarse():
    """The verdict gives the figure; a coarse one comes with advice, a fine one without."""
    fine, coarse = timing_lines(found(0.8)), timing_lines(found(12.0))
    assert any("below 0.8 ms say nothing" in line for line in fine)
    assert any("below 12.0 ms say nothing" in line for line in coarse)
    assert any("smaller buffer" in line for line in coarse)
    assert not any("smaller buffer" in line for line in fine)


def test_a_report_holds_what_developers_ask(monkeypatch, tmp_path, capsys):
    """Versions, systems and figures are in one file; the player's name and folders are not."""
    monkeypatch.setenv("TRAINER_MIDI_API", "jack")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    path = tmp_path / "report.json"
    assert cli.run(["timing", "--seconds", "1", "--json", "--report", str(path)]) == 0
    report = json.loads(path.read_text())
    assert report["timing"] == json.loads(capsys.readouterr().out)
    assert report["libraries"]["python-rtmidi"]
    assert "jack" in report["midi"]
    assert "fault" in report["midi"]["jack"]
    assert report["clock"]["smallest_step_ms"] is not None
    assert str(tmp_path) not in path.read_text()


def test_a_report_that_cannot_be_written(tmp_path, capsys):
    """A folder that is not there is one sentence, reported before anything is measured."""
    asked = ["timing", "--seconds", "1", "--report", str(tmp_path / "none" / "report.json")]
    assert cli.run(asked) == 2
    said = capsys.readouterr()
    assert said.err.count("\n") == 1
    assert said.out == ""


@pytest.mark.jack
def test_a_report_lists_ports(sender):
    """Each port of each system, as the driver names it."""
    kit = sender("Stage Kit")
    systems = timing_report({})["midi"].values()
    listed = [port["label"] for one in systems for port in one.get("inputs", [])]
    assert kit.port in listed


@pytest.mark.parametrize(
    ("way_s", "words"), [(0.0012, "take 1.2 ms"), (None, "sooner than can be")]
)
def test_a_way_is_said_as_far_as_it_is_known(way_s, words):
    """A way shorter than stamps can show is not made a zero: it is said."""
    lines = list(kit_words.loop_lines(LoopLatency(way_s, 98, 100)))
    assert words in lines[0]
    assert "98 of 100" in lines[0]


def test_a_way_below_nothing_is_not_known():
    """Where notes seem back before they were sent, the stamps are as fine as the way is short."""
    figures = timing_check.LoopbackFigures("alsa")
    sent = {key: key * 0.02 for key in range(100)}
    back = {key: at - 1e-5 for key, at in sent.items()}
    timing_check._compare(figures, DriverClock(), sent, back)
    assert figures.lost == 0
    assert figures.to_dict()["way_ms"] is None
    timing_check._compare(
        figures, DriverClock(), sent, {key: at + 1e-3 for key, at in sent.items()}
    )
    assert figures.to_dict()["way_ms"] == 1.0
