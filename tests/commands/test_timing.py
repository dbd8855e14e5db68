"""`trainer timing`: figures of this machine, and what it says about them."""

import json

import pytest

from trainer import cli
from trainer.show.machine_words import timing_lines

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


@pytest.mark.jack
def test_a_loop_inside_jack_is_measured(jack, capsys):
    """Over JACK notes are led round, and the figures come as one JSON document."""
    assert cli.run(["timing", "--seconds", "3", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    loop = document["loop"]
    assert loop["sent"] > 30
    assert loop["lost"] < loop["sent"] / 2
    assert 0 < loop["way_ms"] < 50
    assert document["trusted_ms"] >= loop["stamps_off"]["p99_ms"] - 0.001


def test_without_midi_the_rest_is_measured(monkeypatch, capfd):
    """Where there is no MIDI system the waking is measured, and the reason is told."""
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
