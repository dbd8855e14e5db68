"""MIDI on the wire against the published protocol and against mido.

Sources: the MIDI 1.0 summary in the appendix of "Standard MIDI Files 1.1" (International MIDI
Association; the text of D. Back, 1999), read; mido 1.3.3 as a second opinion, run. The rule that a
note-on of velocity 0 is a note-off was read in the documentation of `midi-consts` and `midi-alsa`;
its clause in MIDI 1.0 is from memory.
"""

import mido
import pytest

from trainer.kit.hits import Strike
from trainer.midi import midi_message

CHANNEL_STATUS = {
    "note_off": 0x80,
    "note_on": 0x90,
    "polytouch": 0xA0,
    "control_change": 0xB0,
    "program_change": 0xC0,
    "aftertouch": 0xD0,
    "pitchwheel": 0xE0,
}


def test_note_on_of_velocity_zero_is_a_note_off():
    """Velocity 0 releases a note; 1 is the softest stroke."""
    assert midi_message.read_message((0x99, 38, 0), 0.0) is None
    assert midi_message.read_message((0x99, 38, 1), 0.0) == Strike(0.0, 38, 1)


@pytest.mark.parametrize(("kind", "status"), CHANNEL_STATUS.items())
def test_channel_messages_have_the_length_mido_gives_them(kind, status):
    """Each kind of channel message is as long as mido makes it and starts with its status."""
    data = mido.Message(kind, channel=9).bytes()
    assert data[0] == status | 9
    assert list(midi_message.split_messages([*data, *data])) == [tuple(data)] * 2


@pytest.mark.parametrize(
    ("kind", "status"),
    [
        ("clock", midi_message.CLOCK),
        ("start", midi_message.START),
        ("continue", midi_message.CONTINUE),
        ("stop", midi_message.STOP),
        ("active_sensing", midi_message.ACTIVE_SENSING),
        ("reset", midi_message.RESET),
        ("songpos", midi_message.SONG_POSITION),
        ("quarter_frame", 0xF1),
        ("song_select", 0xF3),
    ],
)
def test_system_messages_have_the_status_and_length_mido_gives_them(kind, status):
    """System messages carry the published status and as many data bytes as mido writes."""
    data = tuple(mido.Message(kind).bytes())
    assert data[0] == status
    assert list(midi_message.split_messages(data)) == [data]


def test_running_status_repeats_the_last_channel_status():
    """Three strokes under one status are three messages (mido's stream parser finds only one)."""
    data = [0x99, 0x26, 0x64, 0x2A, 0x50, 0x26, 0x00]
    assert list(midi_message.split_messages(data)) == [
        (0x99, 38, 100),
        (0x99, 42, 80),
        (0x99, 38, 0),
    ]


def test_system_common_messages_end_running_status_and_real_time_does_not():
    """After a song position data bytes belong to nothing; a clock may fall inside a message."""
    assert list(midi_message.split_messages([0x99, 38, 1, 0xF2, 0, 1, 40, 2])) == [
        (0x99, 38, 1),
        (0xF2, 0, 1),
    ]
    assert list(midi_message.split_messages([0x99, 38, 0xF8, 1, 40, 0xFE, 2])) == [
        (0xF8,),
        (0x99, 38, 1),
        (0xFE,),
        (0x99, 40, 2),
    ]


def test_controllers_of_kits_have_their_published_numbers():
    """Foot controller is 4, general purpose 1 to 4 are 16 to 19 (their use on kits is practice)."""
    assert midi_message.PEDAL == 4
    assert list(midi_message.POSITIONS) == [16, 17, 18, 19]
