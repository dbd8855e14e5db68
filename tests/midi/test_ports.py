"""The MIDI system of this machine, and what is said when there is none."""

import os
import subprocess
import sys

import pytest

from trainer.errors import BadInput
from trainer.midi import ports
from trainer.midi.ports import quiet_libraries


def test_unknown_system_lists_those_there_are(monkeypatch):
    """A MIDI system that the driver was not built with is bad input that names the others."""
    monkeypatch.setenv("TRAINER_MIDI_API", "carrier pigeon")
    with pytest.raises(BadInput, match=r"carrier pigeon.*choose one of"):
        ports.apis()


def test_common_names_of_systems_are_taken(monkeypatch):
    """The systems' own names are understood, not only the driver's short ones."""
    monkeypatch.setenv("TRAINER_MIDI_API", "JACK")
    assert ports.apis() == ("jack",)


def test_no_system_is_one_sentence_and_nothing_on_standard_error(monkeypatch, capfd):
    """Without any MIDI system the libraries stay silent and one error tells the next best way."""
    monkeypatch.setenv("TRAINER_MIDI_API", "jack")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    with pytest.raises(BadInput, match=r"no MIDI system answers.*--port keys"):
        ports.inputs()
    assert capfd.readouterr().err == ""


def test_quiet_keeps_file_descriptor_two_and_gives_it_back(capfd):
    """What is written past Python inside is gone; what is written after is there."""
    with quiet_libraries():
        os.write(2, b"torn screen")
    os.write(2, b"told")
    assert capfd.readouterr().err == "told"


@pytest.mark.jack
def test_port_that_vanished_between_list_and_open(sender):
    """Opening a port that has just gone is bad input that names it."""
    kit = sender("Gone Kit")
    port = ports.inputs()[0]
    kit.close()
    client = ports.new_client("input", port.api)
    try:
        with pytest.raises(BadInput, match=r"Gone Kit.*cannot be opened"):
            ports.open_port(client, port, "strokes")
    finally:
        client.delete()


@pytest.mark.jack
def test_first_system_with_ports_is_chosen(sender, monkeypatch):
    """Without a word from the player the system that has ports is taken."""
    sender("Kit")
    monkeypatch.delenv("TRAINER_MIDI_API")
    assert ports.system().api == "jack"


def test_silence_leaves_python_its_standard_error():
    """After silencing, what C libraries write is gone and Python's own words are still told."""
    script = (
        "import os, sys; from trainer.midi.ports import silence_libraries; silence_libraries(); "
        "os.write(2, b'torn screen'); sys.stderr.write('told')"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert found.stderr == "told"
