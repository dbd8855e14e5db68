"""What the kernel's list of sequencer clients says; no sequencer is needed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trainer.errors import BadInput
from trainer.midi import alsa, ports

if TYPE_CHECKING:
    from pathlib import Path

# As Linux 6.1 writes it (sound/core/seq/seq_clientmgr.c), with a name that holds a quotation mark.
LISTED = """\
Client info
  cur  clients : 6
  peak clients : 6
  max  clients : 192

Client   0 : "System" [Kernel Legacy]
  Port   0 : "Timer" (Rwe-)
  Port   1 : "Announce" (R-e-)
Client  24 : "Kit "Nine"" [Kernel Legacy]
  Port   0 : "Kit MIDI 1" (RWeX)
    Connecting To: 128:0, 131:2[r:0]
    Connected From: 129:0[r:0]
  Port   1 : "Kit MIDI 2" (RWeX)
Client 128 : "midi-kit-trainer" [User Legacy]
  Port   0 : "strokes" (-We-)
    Connected From: 24:0
  Input pool :
    Pool size          : 200
Client 129 : "midi-kit-trainer" [User UMP MIDI1]
  Port   0 : "click" (R-e-)
    Connecting To: 24:0[r:0]
Client 130 : "midi-kit-trainer" [User Legacy]
  Port   0 : "strokes" (-We-)
"""


@pytest.fixture
def kernel(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A made up list of the kernel, to be written by the test."""
    listed = tmp_path / "clients"
    listed.write_text(LISTED)
    monkeypatch.setattr(alsa, "CLIENTS", str(listed))
    return listed


def test_every_port_and_both_directions_of_its_connections_are_read() -> None:
    """Ports follow their clients; ends are those sent to and those heard from."""
    found = alsa.parse_clients(LISTED)
    assert [one.address for one in found] == [
        *((0, 0), (0, 1), (24, 0), (24, 1)),
        *((128, 0), (129, 0), (130, 0)),
    ]
    kit = found[2]
    assert (kit.client, kit.name) == ('Kit "Nine"', "Kit MIDI 1")
    assert kit.ends == {(128, 0), (131, 2), (129, 0)}
    assert found[3].ends == frozenset()
    assert found[5].ends == {(24, 0)}


@pytest.mark.parametrize("text", ["", "Client info\n", "    Connecting To: 1:0\n", "\0\nPort 0"])
def test_a_list_with_nothing_in_it(text: str) -> None:
    """What is empty or not understood lists no port, and nothing fails."""
    assert alsa.parse_clients(text) == ()


def test_own_ports_are_found_by_client_and_name() -> None:
    """Only this program's ports of that name, with what each is connected to."""
    listed = alsa.parse_clients(LISTED)
    assert alsa.own_ends(listed, "strokes") == {(128, 0): {(24, 0)}, (130, 0): frozenset()}
    assert alsa.own_ends(listed, "clock") == {}


def test_a_connection_is_found_watched_and_missed(kernel: Path) -> None:
    """Ours is the port that is new; cut it is not intact, without a list nothing is known."""
    kernel.write_text(LISTED.partition("Client 128")[0])
    cable = alsa.AlsaCable('Kit "Nine":Kit MIDI 1 24:0', "strokes")
    kernel.write_text(LISTED.partition("Client 130")[0])
    assert cable.find()
    assert cable.intact is True
    kernel.write_text(LISTED.replace("    Connected From: 24:0\n", ""))
    assert cable.intact is False
    kernel.write_text(LISTED.partition("Client 128")[0])
    assert cable.intact is False
    kernel.unlink()
    assert cable.intact is None


def test_a_connection_that_leads_elsewhere_is_noticed(kernel: Path) -> None:
    """Our port is new and connected, but not to the port that was meant."""
    kernel.write_text(LISTED.partition("Client 128")[0])
    cable = alsa.AlsaCable("Kit:Kit 28:0", "strokes")
    kernel.write_text(LISTED.partition("Client 130")[0])
    assert not cable.find()


def test_two_of_ours_at_once_leave_it_open(kernel: Path) -> None:
    """Which of two new ports is ours nobody knows: no fault, and no claim either."""
    kernel.write_text(LISTED.partition("Client 128")[0])
    cable = alsa.AlsaCable('Kit "Nine":Kit MIDI 1 24:0', "strokes")
    kernel.write_text(LISTED)
    assert cable.find()
    assert cable.intact is None


def test_sockets_keep_usb_devices_apart(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A USB card has the path of its socket and the number of its port; all others have none."""
    usb = tmp_path / "devices/pci0/usb1/1-1/1-1:1.0/sound/card2"
    built_in = tmp_path / "devices/pci0/0000:00:1f.3/sound/card0"
    for number, path in ((2, usb), (0, built_in)):
        path.mkdir(parents=True)
        (tmp_path / f"card{number}").symlink_to(path)
    monkeypatch.setattr(alsa, "CARDS", str(tmp_path))
    assert alsa.socket_of("Kit:Kit MIDI 2 24:1").endswith("/usb1/1-1/1-1:1.0#0:1")
    others = ["Card:Card 16:0", "Gone:Gone 28:0", "Midi Through:Port-0 14:0", "Synth:in 128:0", "x"]
    assert [alsa.socket_of(name) for name in others] == [""] * 5


def test_a_user_who_may_not_use_the_sequencer_learns_the_group(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The device is there but closed to this user: the fix is the group, not a kernel module."""
    monkeypatch.setattr(alsa, "SEQUENCER", str(tmp_path))
    monkeypatch.setattr(alsa.os, "access", lambda *_: False)
    fault = ports._no_client("alsa", RuntimeError("Alsa::initialize: error creating it."))
    assert f"may not open {tmp_path}" in fault.what
    assert "join the group " in str(fault)
    monkeypatch.setattr(ports, "apis", lambda: ("alsa", "jack"))
    faults = {"alsa": fault, "jack": BadInput("no server", where="MIDI system jack")}
    monkeypatch.setattr(ports, "listing", lambda name: (_ for _ in ()).throw(faults[name]))
    with pytest.raises(BadInput, match="join the group"):
        ports.system()
