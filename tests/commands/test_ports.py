"""`trainer ports` as it is called."""

import json

import pytest
from conftest import SYSTEM

from trainer import cli


@pytest.mark.jack
def test_ports_are_listed_for_people_and_programs(sender, capsys):
    """A kit stands in the list by the name that --port takes, in words and in JSON."""
    sender("Listed Kit")
    assert cli.run(["ports"]) == 0
    assert "  Listed Kit:drums" in capsys.readouterr().out.splitlines()
    assert cli.run(["ports", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["api"] == SYSTEM
    kits = [port["name"] for port in document["inputs"] if not port["loop"]]
    assert kits == ["Listed Kit:drums"]


def test_no_midi_system_is_bad_input(monkeypatch, capfd):
    """Without a MIDI system the command says so on standard error and returns 2."""
    monkeypatch.setenv("TRAINER_MIDI_API", "jack")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    assert cli.run(["ports"]) == 2
    out, err = capfd.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert "Traceback" not in err
