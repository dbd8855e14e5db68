"""Pads that act as keys, and how they are named."""

from __future__ import annotations

from trainer.kit.model import GENERAL_MIDI
from trainer.kit.voices import VOICES
from trainer.practice.events import CONTINUE_COMMANDS, pad_names


def test_pads_that_go_on_are_named_as_people_say_them() -> None:
    """Each pad once, by its voice's title; a note the kit does not know by its number."""
    crash = [note for note, pad in GENERAL_MIDI.notes.items() if pad.voice == "crash"]
    table = {**dict.fromkeys(crash, "next"), 3: "toggle", 38: "restart"}

    assert pad_names(table, GENERAL_MIDI, CONTINUE_COMMANDS) == f"{VOICES['crash'].title} or note 3"
    assert pad_names({38: "restart"}, GENERAL_MIDI, CONTINUE_COMMANDS) == ""
