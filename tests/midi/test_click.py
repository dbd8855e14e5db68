"""The click: its notes, and its way to a real MIDI output."""

import pickle
import time

import pytest
import rtmidi
from conftest import midi_api
from patience import until

from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI, Kit, Pad
from trainer.midi import connection
from trainer.midi.click import (
    KINDS,
    ClickOut,
    ClickSound,
    SilentClick,
    StrokeSounds,
    sounding_note,
)
from trainer.midi.kit_input import MidiSource


def test_default_click_is_percussion_on_channel_ten():
    """All kinds go out on channel 10 (9 on the wire), and the accent differs in note and force."""
    sound = ClickSound()
    messages = {kind: sound.message(kind) for kind in KINDS}
    assert {message[0] for message in messages.values()} == {0x99}
    assert messages["accent"][1] != messages["beat"][1]
    assert messages["accent"][2] > messages["beat"][2] > messages["sub"][2]


@pytest.mark.parametrize(
    ("field", "value"), [("note", 128), ("channel", 0), ("channel", 17), ("accent_velocity", 0)]
)
def test_click_out_of_range_is_bad_input(field, value):
    """What MIDI cannot say is bad input that names the field and its range."""
    with pytest.raises(BadInput, match=f"{field.replace('_', ' ')}.*choose"):
        ClickSound(**{field: value})


def test_silent_click_is_on_time():
    """A silent click was sent when it was due."""
    assert SilentClick().send("beat", 3.25) == 3.25


def test_click_before_open_is_silent():
    """A click that has no output yet, or no more, does not fail."""
    assert ClickOut("any").send("beat", 1.0) == 1.0


@pytest.mark.jack
def test_click_reaches_another_program(jack):
    """Each kind arrives as its note, and the time reported is when it was sent."""
    module = rtmidi.MidiIn(midi_api(), name="Sound Module")
    module.open_virtual_port("in")
    click = ClickOut("sound module", ClickSound(note=33, accent_note=34, channel=3))
    zero = time.perf_counter()
    click.open(zero)
    heard = set()
    for _ in range(3):
        before = time.perf_counter() - zero
        reported = [click.send(kind, before) for kind in ("accent", "beat")]
        assert all(before <= one <= time.perf_counter() - zero for one in reported)
    wanted = {(0x92, 34, 120), (0x92, 33, 90)}
    until(lambda: wanted <= heard, "a click of each kind", lambda: heard.update(messages(module)))
    figures = click.quality()
    click.close()
    click.close()
    module.delete()
    assert heard == wanted
    assert figures["sent_late"]["count"] == 6


def messages(module):
    """Return what has come to a module by now."""
    time.sleep(0.01)
    return [tuple(got[0]) for got in iter(module.get_message, None)]


@pytest.mark.jack
def test_click_goes_on_when_its_module_is_back(jack, monkeypatch):
    """A sound module that was away is connected again, and clicks reach it."""
    monkeypatch.setattr(connection, "WATCH_S", 0.0)
    module = rtmidi.MidiIn(midi_api(), name="Module B")
    module.open_virtual_port("in")
    click = ClickOut("Module B")
    click.open(time.perf_counter())
    click.send("beat", 0.0)
    module.delete()
    click.send("beat", 0.0)
    assert click.lost
    module = rtmidi.MidiIn(midi_api(), name="Module B")
    module.open_virtual_port("in")
    click.send("beat", 0.0)
    assert not click.lost
    # JACK may drop single notes on a busy machine.
    assert until(lambda: messages(module), "a click in the module", lambda: click.send("beat", 0.0))
    click.close()
    module.delete()


def test_source_and_click_can_be_sent_to_another_process():
    """Before they are opened both can be pickled, because the engine opens them in its process."""
    source, click = pickle.loads(pickle.dumps((MidiSource("Kit"), ClickOut("Module"))))
    assert (source.name, click.name) == ("Kit", "Module")


def test_strokes_sound_as_general_midi():
    """A kit's own numbers become General MIDI's of the same pad; its own stay as they are."""
    kit = Kit(notes={9: Pad("snare", "rim"), 10: Pad("kick", "head"), 38: Pad("tom1", "head")})
    assert [sounding_note(kit, note) for note in kit.notes] == [40, 36, 48]
    for note, pad in GENERAL_MIDI.notes.items():
        sounding = GENERAL_MIDI.notes[sounding_note(GENERAL_MIDI, note)]
        assert (sounding.voice, sounding.zone) == (pad.voice, pad.zone)


def test_a_sound_without_strokes_has_no_delay():
    """Nothing was sent, so nothing is said; and what is not open takes no stroke amiss."""
    sounds = StrokeSounds("any", GENERAL_MIDI)
    assert sounds.words() == ""
    assert sounds.quality()["sent_late"]["count"] == 0
    sounds.close()
