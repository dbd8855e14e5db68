"""The words in which a reading names note values, limbs and unisons."""

from __future__ import annotations

from trainer.kit.voices import VOICES
from trainer.pattern.tables import NOTE_VALUES, Limb

LIMB_WORDS = {
    Limb.RH.value: "right hand",
    Limb.LH.value: "left hand",
    Limb.RF.value: "right foot",
    Limb.LF.value: "left foot",
}

_PLAIN = {1: "whole notes", 2: "halves", 4: "quarters", 32: "32nds"}
_TUPLET = {"t": " triplets", "q": " quintuplets", "s": " septuplets"}
_SINGLE = {1: "whole note", 2: "half", 4: "quarter", 32: "32nd"}


def value_words(value: str) -> str:
    """Return how a note value is spoken of: `16` is "16ths", `8t` "8th triplets"."""
    base = NOTE_VALUES[value].base
    kind = value.removeprefix(str(base))
    if kind in _TUPLET:
        return _SINGLE.get(base, f"{base}th") + _TUPLET[kind]
    return ("dotted " if kind == "." else "") + _PLAIN.get(base, f"{base}ths")


def voice_words(voice: str) -> str:
    """Return how a voice is spoken of; a name that is no voice stands for itself."""
    return VOICES[voice].title if voice in VOICES else voice


def limb_words(limb: str) -> str:
    """Return how a limb is spoken of."""
    return LIMB_WORDS.get(limb, "limb not written")
