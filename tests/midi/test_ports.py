"""The MIDI system of this machine, and what is said when there is none."""

import os
import subprocess
import sys

import pytest

from trainer.errors import BadInput
from trainer.midi import jack, port_names, ports
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
    port = port_names.kits(ports.inputs())[0]
    kit.close()
    client = ports.new_client("input", port.api)
    try:
        with pytest.raises(BadInput, match=r"Gone Kit.*is gone"):
            ports.open_port(client, port, "strokes")
    finally:
        client.delete()


@pytest.mark.jack
def test_every_system_that_answers_is_listed(sender, monkeypatch):
    """Without a word from the player a port is found whatever system it belongs to."""
    wanted = sender("Kit").port
    api = os.environ["TRAINER_MIDI_API"]
    monkeypatch.delenv("TRAINER_MIDI_API")
    found = ports.system()
    assert api in found.apis
    assert port_names.pick_port(found.inputs, wanted).api == api


class Shifting:
    """A client whose list changes when a port is opened, as often as it is told to."""

    def __init__(self, *lists):
        self.lists = [list(one) for one in lists]
        self.opened = []

    def get_ports(self):
        return self.lists[0]

    def open_port(self, place, _own_name):
        if len(self.lists) > 1:
            self.lists.pop(0)
        self.opened.append(self.lists[0][place])

    def close_port(self):
        self.opened.pop()


def test_a_port_is_opened_by_its_name_and_not_by_an_old_place():
    """A device that came before it since the list was made does not get opened in its stead."""
    known = port_names.ports_of_names(["Kit:a 128:0"], "alsa")[0]
    client = Shifting(["Pad:a 24:0", "Kit:a 128:0"])
    ports.open_port(client, known, "strokes")
    assert client.opened == ["Kit:a 128:0"]


def test_a_list_that_changes_while_a_port_is_opened():
    """What was opened by a place that moved meanwhile is closed, and the port opened again."""
    known = port_names.ports_of_names(["Kit:a 128:0"], "alsa")[0]
    client = Shifting(["Kit:a 128:0"], ["Pad:a 24:0", "Kit:a 128:0"])
    ports.open_port(client, known, "strokes")
    assert client.opened == ["Kit:a 128:0"]


def test_a_port_that_has_gone_is_not_replaced_by_whoever_has_its_place():
    """With its name no longer in the list nothing is opened at all."""
    known = port_names.ports_of_names(["Kit:a 128:0"], "alsa")[0]
    client = Shifting(["Kit:a 129:0"])
    with pytest.raises(BadInput, match="it is gone"):
        ports.open_port(client, known, "strokes")
    assert client.opened == []


def test_the_second_of_two_equal_names_is_opened_at_its_place():
    """Where names are equal to the letter, as on macOS, the place among them counts."""
    known = port_names.ports_of_names(["Kit", "Kit"], "core")[1]
    client = Shifting(["Pad", "Kit", "Kit"])
    client.open_port = lambda place, _name: client.opened.append(place)
    ports.open_port(client, known, "strokes")
    assert client.opened == [2]


@pytest.mark.parametrize(
    ("api", "here", "fix"),
    [
        ("alsa", True, "close the other program that uses it"),
        ("winmm", True, "close the other program that uses it"),
        ("core", True, "plug it in again"),
        ("alsa", False, "plug it in again"),
    ],
)
def test_a_port_that_does_not_open_says_what_to_do(api, here, fix):
    """One that is still listed is held by another program, where systems lend to one program."""
    known = port_names.ports_of_names(["Kit"], api)[0]
    client = Shifting(["Kit"] if here else [])
    fault = ports._not_opened(client, known, RuntimeError("Midi::openPort: busy."))
    assert fix in str(fault)
    assert "it cannot be opened (busy)" in str(fault)


def test_sockets_without_a_folder_of_descriptors(monkeypatch):
    """A machine that lists no descriptors has no sockets to watch, and nothing fails."""
    monkeypatch.setattr(jack, "_descriptors", list)
    assert jack.open_sockets() == {}
    assert not jack.ServerLink({}).broken


def test_a_missing_folder_of_descriptors_is_none(monkeypatch):
    """Neither folder is there: no descriptor is known."""
    monkeypatch.setattr(jack.os, "listdir", lambda folder: (_ for _ in ()).throw(OSError(folder)))
    assert jack._descriptors() == []


def test_silence_leaves_python_its_standard_error():
    """After silencing, what C libraries write is gone and Python's own words are still written."""
    script = (
        "import os, sys; from trainer.midi.ports import silence_libraries; silence_libraries(); "
        "os.write(2, b'torn screen'); sys.stderr.write('told')"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert found.stderr == "told"
