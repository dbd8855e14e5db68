"""The spoken names of note values, voices and limbs: `16` is "16ths", `RH` is "right hand"."""

from __future__ import annotations

from trainer.kit.voices import VOICES
from trainer.pattern.model import NOTE_VALUES, Limb

LIMB_WORDS = {
    Limb.RH.value: "right hand",
    Limb.LH.value: "left hand",
    Limb.RF.value: "right foot",
    Limb.LF.value: "left foot",
}

_PLURAL = {1: "whole notes", 2: "halves", 4: "quarters", 32: "32nds"}
_TUPLET_ENDING = {"t": " triplets", "q": " quintuplets", "s": " septuplets"}
_SINGULAR = {1: "whole note", 2: "half", 4: "quarter", 32: "32nd"}


def value_words(value: str) -> str:
    """Return how a note value is spoken of: `16` is "16ths", `8t` "8th triplets"."""
    base = NOTE_VALUES[value].base
    kind = value.removeprefix(str(base))
    if kind in _TUPLET_ENDING:
        return _SINGULAR.get(base, f"{base}th") + _TUPLET_ENDING[kind]
    return ("dotted " if kind == "." else "") + _PLURAL.get(base, f"{base}ths")


def voice_words(voice: str) -> str:
    """Return how a voice is spoken of; a name that is no voice stands for itself."""
    return VOICES[voice].title if voice in VOICES else voice


def limb_words(limb: str) -> str:
    """Return how a limb is spoken of."""
    return LIMB_WORDS.get(limb, "limb not written")
