"""Bytes to messages, and messages to strikes and controls."""

import random

import pytest

from trainer.kit.hits import Strike
from trainer.midi import midi_message
from trainer.midi.hit_source import Control


def test_several_messages_in_one_run_of_bytes():
    """A packet with several messages is cut at each status."""
    data = [0x99, 38, 100, 0x89, 38, 64, 0xC9, 5, 0x99, 42, 1]
    assert list(midi_message.split_messages(data)) == [
        (0x99, 38, 100),
        (0x89, 38, 64),
        (0xC9, 5),
        (0x99, 42, 1),
    ]


def test_system_exclusive_comes_whole():
    """With its end, or as far as it goes; it counts once and ends running status."""
    data = [0xF0, 0x41, 0x10, 0x99 & 0x7F, 0xF7, 0x99, 38, 1]
    assert list(midi_message.split_messages(data)) == [
        (0xF0, 0x41, 0x10, 0x19, 0xF7),
        (0x99, 38, 1),
    ]
    around = [0x99, 38, 1, 0xF0, 1, 0xF8, 2, 0xF7, 38, 1]
    assert list(midi_message.split_messages(around)) == [(0x99, 38, 1), (0xF8,), (0xF0, 1, 2, 0xF7)]
    assert list(midi_message.split_messages([0xF0, 1, 2, 0x99, 38, 1])) == [
        (0xF0, 1, 2),
        (0x99, 38, 1),
    ]
    assert list(midi_message.split_messages([0xF0, 1, 2])) == [(0xF0, 1, 2)]


def test_incomplete_messages_are_left_out():
    """What breaks off or has no status makes no message."""
    assert list(midi_message.split_messages([38, 100])) == []
    assert list(midi_message.split_messages([0x99, 38])) == []
    assert list(midi_message.split_messages([0x99, 38, 0xB9, 4, 9])) == [(0xB9, 4, 9)]


@pytest.mark.parametrize("channel", range(16))
def test_any_channel_makes_strikes(channel):
    """A kit may send on any channel."""
    assert midi_message.read_message((0x90 | channel, 38, 9), 1.5) == Strike(1.5, 38, 9)


@pytest.mark.parametrize(
    ("message", "made"),
    [
        ((0xB9, 4, 30), Control(2.0, "control", 4, 30)),
        ((0xB9, 16, 30), Control(2.0, "control", 16, 30)),
        ((0xB9, 19, 30), Control(2.0, "control", 19, 30)),
        ((0xA9, 49, 127), Control(2.0, "choke", 49, 127)),
        ((0xB9, 7, 30), None),
        ((0x89, 38, 30), None),
        ((0x99, 38, 0), None),
        ((0xF8,), None),
        ((0xE9, 38, 30), None),
    ],
)
def test_what_a_message_means(message, made):
    """Pedal, position and choke are controls; everything else is nothing here."""
    assert midi_message.read_message(message, 2.0) == made


def test_junk_never_crashes_and_makes_only_complete_messages():
    """Whatever bytes come, every message has a status and its data bytes, all below 128."""
    rng = random.Random(4)
    for _ in range(2000):
        data = [rng.randrange(256) for _ in range(rng.randrange(12))]
        for message in midi_message.split_messages(data):
            assert message[0] >= 0x80
            ends = message[0] == midi_message.SYSEX and message[-1] == midi_message.SYSEX_END
            assert all(byte < 0x80 for byte in message[1 : -1 if ends else None])
            midi_message.read_message(message, 0.0)
