"""The keys of a session told in lines of text: the same ones as on the play screen."""

from __future__ import annotations

from dataclasses import replace

from trainer.midi.keys import PADS
from trainer.practice.events import Command

KEYS = {
    " ": Command("toggle"),
    "r": Command("restart"),
    "+": Command("tempo", 1.0),
    "=": Command("tempo", 1.0),
    "-": Command("tempo", -1.0),
    "q": Command("quit"),
}


def commands(keys: str, pressed_s: float = 0.0) -> list[Command]:
    """Return what the player asks for by keys; one that asks for nothing may be a pad.

    `pressed_s` is the `time.perf_counter()` at which they were pressed.
    """
    pad = Command("key", pressed_s)
    return [KEYS.get(key) or replace(pad, text=key) for key in keys]


def help_lines(pads: bool) -> list[str]:
    """Return the lines that tell the keys, with those that are `pads` when they are the kit."""
    lines = ["Space pauses and goes on, r restarts, + and - change the tempo, q saves and ends."]
    if pads:
        voices = dict.fromkeys(PADS.values())
        keys = {voice: " ".join(key for key, v in PADS.items() if v == voice) for voice in voices}
        lines.append("Pads: " + ", ".join(f"{voice} {keys[voice]}" for voice in voices) + ".")
    return lines
