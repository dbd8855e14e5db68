"""Kits that come, go and look alike, over a real sequencer: programs with ports of their own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections import Counter
from typing import TYPE_CHECKING

import pytest
from cables import alsa_ends, cut
from conftest import JackServer, midi_api
from listening import listen, listen_until, notes

from trainer import cli
from trainer.errors import BadInput
from trainer.midi import connection, port_names, ports
from trainer.midi.click import ClickOut
from trainer.midi.connection import PortWatch

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import Sender


pytestmark = pytest.mark.alsa

Kits = "Callable[..., Sender]"
Sources = "Callable[..., MidiSource]"


def strike(kit: Sender, note: int, count: int = 3) -> None:
    """Let a kit strike a pad some times, and wait for it."""
    kit.play([(0.01 * k, (0x99, note, 90)) for k in range(count)])


def test_the_loop_of_the_system_is_no_kit(opened: Sources) -> None:
    """With nothing but loops connected there is no input, and the words say so."""
    assert any(port.is_loop for port in ports.inputs())
    with pytest.raises(BadInput, match="no MIDI input is connected"):
        opened()


def test_a_kit_that_comes_is_the_one_to_use(kit: Kits, opened: Sources) -> None:
    """What home asks: nothing at first, then the kit, which stays when another comes."""
    watch = PortWatch()
    assert watch.arrived() == []
    assert port_names.input_to_use(watch.look(), "", "keys") == "keys"
    kit("Stage Kit")
    time.sleep(connection.LIST_EVERY_S)
    assert watch.arrived() == ["Stage Kit:drums"]
    assert port_names.input_to_use(watch.look(), "keys", "keys") == "Stage Kit:drums"
    kit("Another")
    time.sleep(connection.LIST_EVERY_S)
    assert watch.arrived() == ["Another:drums"]
    assert port_names.input_to_use(watch.look(), "Stage Kit:drums", "keys") == "Stage Kit:drums"
    watch.close()
    source = opened("stage")
    assert source.name == "Stage Kit:drums"


def test_the_first_of_two_equal_kits_goes_off(kit: Kits, opened: Sources) -> None:
    """Its twin is not taken for it; back under another number it is taken up again."""
    first, second = kit("Twin"), kit("Twin")
    source = opened("Twin:drums #1")
    strike(first, 38)
    strike(second, 40)
    assert notes(listen(source, 0.2)) == [38] * 3
    first.close()
    listen_until(source, lost=True)
    strike(second, 40)
    assert notes(listen(source, 1.5)) == []
    assert source.lost
    back = kit("Twin")
    listen_until(source, lost=False)
    strike(back, 36)
    strike(second, 40)
    assert notes(listen(source, 0.3)) == [36] * 3


def test_playing_goes_on_when_the_other_of_two_equal_kits_goes_off(
    kit: Kits, opened: Sources
) -> None:
    """On the second kit nothing happens when the first one goes."""
    first, second = kit("Twin"), kit("Twin")
    source = opened("Twin:drums #2")
    strike(second, 40)
    assert notes(listen(source, 0.2)) == [40] * 3
    first.close()
    listen(source, 1.5)
    assert not source.lost
    strike(second, 41)
    assert notes(listen(source, 0.2)) == [41] * 3


def test_a_twin_that_comes_later_is_not_taken_either(kit: Kits, opened: Sources) -> None:
    """Seen beside the kit that is played on, it is another one for good."""
    first = kit("Twin")
    source = opened("Twin")
    second = kit("Twin")
    listen(source, 1.2)
    first.close()
    listen_until(source, lost=True)
    strike(second, 40)
    assert notes(listen(source, 1.2)) == []


def test_a_cut_connection_is_seen_and_made_again(kit: Kits, opened: Sources) -> None:
    """Another program disconnects us, several times; each time strokes are back in a moment."""
    drums = kit("Kit A")
    source = opened("Kit A")
    for note in (36, 37, 38):
        cut(drums.port)
        listen_until(source, lost=True)
        assert source.trouble == connection.CUT
        listen_until(source, lost=False)
        strike(drums, note)
        assert notes(listen(source, 0.2)) == [note] * 3


def test_a_program_of_the_same_name_at_once(kit: Kits, opened: Sources) -> None:
    """A kit that is gone and back before anybody looked is connected again."""
    drums = kit("Kit B")
    source = opened("Kit B")
    for note in (36, 37, 38):
        drums.play([(0.0, ())])
        listen_until(source, lost=True, seconds=2 * connection.WATCH_S + 1)
        listen_until(source, lost=False)
        strike(drums, note)
        assert notes(listen(source, 0.2)) == [note] * 3


def test_a_cut_click_comes_back(kit: Kits) -> None:
    """The click's connection is watched as well."""
    import rtmidi

    module = rtmidi.MidiIn(midi_api("alsa"), name="Module")
    module.open_virtual_port("in")
    click = ClickOut("Module")
    click.open(time.perf_counter())
    cut("Module:in")
    seen = set()
    for _ in range(20):
        click.send("beat", 0.0)
        seen.add(click.lost)
        time.sleep(0.1)
    assert seen == {True, False}
    assert not click.lost
    while module.get_message():
        pass
    click.send("accent", 0.0)
    time.sleep(0.05)
    assert module.get_message()[0] == list(click.sound.message("accent"))
    assert len(alsa_ends("Module:in")[1]) == 1
    click.close()
    module.delete()


def flood(k: int) -> tuple[int, ...]:
    """Return the kth message of a flood: strokes, every kind of message between, long dumps."""
    others = {
        3: (0xFE,),
        5: (0xF8,),
        7: (0xF0, 0x41, *([k % 128] * 200), 0xF7),
        8: (0xB9, 4, k % 128),
        9: (0x89, 38, 64),
    }
    return others.get(k % 50, (0x99, 35 + k % 48, 1 + k % 127))


def test_two_thousand_messages_a_second_arrive_whole(kit: Kits, opened: Sources) -> None:
    """Nothing of a flood is lost, nothing changes its order, and dumps are no strokes."""
    drums, source = kit("Wild Kit"), opened("Wild Kit")
    rows = [(k / 2000, flood(k)) for k in range(4000)]
    drums.start(rows)
    made = listen(source, 3.0)
    drums.sent()
    sent = [data for _, data in rows]
    assert notes(made) == [data[1] for data in sent if data[0] == 0x99]
    wanted = Counter(data[0] & 0xF0 if data[0] < 0xF0 else data[0] for data in sent)
    assert source.others[0xF0] == wanted[0xF0]
    assert source.others[0xF8] == wanted[0xF8]
    assert source.others[0x80] == wanted[0x80]
    assert len(made) == wanted[0x90] + wanted[0xB0]


def test_a_long_dump_holds_nothing_up(kit: Kits, opened: Sources) -> None:
    """A dump of 4,000 bytes, in as many pieces as the system makes of it, leaves strokes alone."""
    drums, source = kit("Module"), opened("Module")
    dump = (0xF0, 0x41, *([0x25] * 4000), 0xF7)
    drums.play([(0.0, (0x99, 38, 90)), (0.05, dump), (0.1, (0x99, 40, 90)), (0.15, (0x99, 41, 1))])
    assert notes(listen(source, 0.5)) == [38, 40, 41]


def test_a_way_too_short_is_not_measured(capsys: pytest.CaptureFixture[str]) -> None:
    """The loop inside ALSA loses nothing; its way is known and above zero, or not known."""
    assert cli.run(["timing", "--seconds", "3", "--json"]) == 0
    loop = json.loads(capsys.readouterr().out)["loop"]
    assert loop["system"] == "alsa"
    assert loop["lost"] == 0
    assert loop["way_ms"] is None or loop["way_ms"] > 0
    assert "-0.0" not in json.dumps(loop)


def test_alsa_and_jack_together(
    kit: Kits, opened: Sources, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both systems are listed, each kit is reached by its name, and one system can be chosen."""
    with JackServer():
        monkeypatch.delenv("TRAINER_MIDI_API")
        one, two = kit("Direct Kit"), kit("Jack Kit", "jack")
        found = {port.label: port.api for port in port_names.kits(ports.inputs())}
        assert found == {one.port: "alsa", two.port: "jack"}
        assert set(PortWatch().look()) == set(found)
        for sender, note in ((one, 38), (two, 40)):
            source = opened(sender.port)
            # A JACK server without rights drops notes on a busy machine, so more are sent.
            sender.play([(0.05 * k, (0x99, note, 90)) for k in range(5)])
            assert set(notes(listen(source, 0.3))) == {note}
            source.close()
        monkeypatch.setenv("TRAINER_MIDI_API", "jack")
        assert [port.label for port in ports.inputs()] == [two.port]


@pytest.mark.skipif(os.name == "nt" or os.getuid() != 0, reason="only root can be another user")
def test_a_user_outside_the_group_reads_to_join_it(tmp_path: Path) -> None:
    """The sequencer is there but closed: one sentence with the group, and nothing torn."""
    import grp
    from pathlib import Path

    device = Path("/dev/snd/seq")
    before = device.stat()
    os.chown(device, 0, grp.getgrnam("audio").gr_gid)
    device.chmod(0o660)
    home = tmp_path / "nobody"
    home.mkdir(mode=0o777)
    for folder in (home, *list(tmp_path.parents)[:3]):
        folder.chmod(0o777)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "trainer", "ports"],
            capture_output=True,
            text=True,
            user=65534,
            group=65534,
            extra_groups=[],
            env={**os.environ, "TRAINER_HOME": str(home), "JACK_NO_START_SERVER": "1"},
        )
    finally:
        device.chmod(before.st_mode & 0o777)
        os.chown(device, before.st_uid, before.st_gid)
    assert done.returncode == 2
    assert "join the group audio" in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 1
