"""`trainer kit controllers`: learns the pedal, the place of strikes and chokes, what a kit has."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer import report
from trainer.kit import kits
from trainer.kit.controllers import CHOKES, Controllers, HatEar, PedalEar, PlaceEar
from trainer.kit.hits import Strike
from trainer.kit.voices import VOICES
from trainer.midi.listener import MidiSource
from trainer.midi.source import Control

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterator

    from trainer.kit.controllers import Pedal
    from trainer.kit.note_map import Kit
    from trainer.midi.source import Made

LOOK_S = 0.005
ASKED_S = 8.0
"""How long each question waits; what a kit does not send is left out."""

PLACED = ("snare", "ride")
"""Voices that kits tell the place of, where they tell it at all (common practice)."""


def learn_controllers(args: Namespace) -> int:
    """Ask for pedal, places and chokes in turn, and write what was heard into the kit."""
    kit = kits.load(args.name)
    source = MidiSource(args.port)
    source.open(time.perf_counter())
    try:
        found = Controllers(_pedal(source, kit), _places(source, kit), _chokes(source, kit))
    except KeyboardInterrupt:
        report.say("Stopped; nothing was changed.")
        return 130
    finally:
        source.close()
    report.say(f"Kept in {kits.save(replace(kit, controllers=found))}")
    return 0


def _pedal(source: MidiSource, kit: Kit) -> Pedal | None:
    report.say("Press the hi-hat pedal down and let it up, five times.")
    ear = PedalEar()
    for one in _heard(source):
        if isinstance(one, Control) and one.kind == "control":
            ear.control(one.number, one.value)
        elif isinstance(one, Strike) and _voice(kit, one.note) == "pedal":
            ear.pedal_note()
        learned = ear.learned()
        if learned:
            ends = f"{learned.closed} closed, {learned.open} open"
            report.say(f"  controller {learned.controller}: {ends}.")
            return replace(learned, zones=_one_note(source, kit, learned))
    report.say("  No controller moved: left out.")
    return None


def _one_note(source: MidiSource, kit: Kit, pedal: Pedal) -> bool:
    """Ask for the hi-hat closed and open; tell whether only the pedal tells them apart."""
    report.say("Strike the hi-hat four times with the pedal down, then four times with it up.")
    ear = HatEar(pedal)
    for one in _heard(source):
        if isinstance(one, Strike) and _voice(kit, one.note) == "hihat":
            ear.stroke(one.note, one.pedal)
        if ear.enough:
            break
    if not ear.enough:
        report.say("  Too few strokes of either kind: the note alone will tell.")
    elif ear.one_note():
        report.say("  One note for both: the pedal will tell closed from open.")
    else:
        report.say("  A note for each.")
    return ear.one_note()


def _places(source: MidiSource, kit: Kit) -> dict[str, int]:
    found: dict[str, int] = {}
    for voice in PLACED:
        report.say(f"Strike the {VOICES[voice].title} eight times, from the middle to the edge.")
        ear = PlaceEar()
        for one in _heard(source):
            if isinstance(one, Control) and one.kind == "control":
                ear.control(one.number, one.value)
            elif isinstance(one, Strike) and _voice(kit, one.note) == voice:
                ear.stroke()
            if ear.enough:
                break
        number = ear.learned()
        if number is None:
            report.say("  It does not tell the place: left out.")
        else:
            report.say(f"  controller {number}.")
            found[voice] = number
    return found


def _chokes(source: MidiSource, kit: Kit) -> tuple[int, ...]:
    report.say("Strike each cymbal and grab it, twice.")
    grabbed: dict[int, int] = {}
    for one in _heard(source):
        if isinstance(one, Control) and one.kind == "choke" and one.value:
            grabbed[one.number] = grabbed.get(one.number, 0) + 1
            if grabbed[one.number] == CHOKES:
                report.say(f"  choke of {_voice(kit, one.number) or 'note'} (note {one.number}).")
    found = tuple(note for note, times in sorted(grabbed.items()) if times >= CHOKES)
    if not found:
        report.say("  No choke was told: left out.")
    return found


def _heard(source: MidiSource) -> Iterator[Made]:
    """Yield what arrives for as long as a question waits."""
    began = time.perf_counter()
    while time.perf_counter() - began < ASKED_S:
        yield from source.poll(time.perf_counter() - began)
        time.sleep(LOOK_S)


def _voice(kit: Kit, note: int) -> str:
    pad = kit.pad(note)
    return pad.voice if pad else ""
