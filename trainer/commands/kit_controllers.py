"""`trainer kit controllers`: learns the pedal, the place of strikes and chokes, what a kit has."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer import console
from trainer.commands.kit_hearing import untold
from trainer.kit import kits
from trainer.kit.hits import Controllers, Strike
from trainer.kit.learning import CHOKE_TIMES, HiHatNoteLearner, PedalLearner, PlaceLearner
from trainer.kit.voices import VOICES
from trainer.midi.hit_source import Control
from trainer.midi.kit_input import MidiSource

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Generator, Iterator

    from trainer.commands.kit_hearing import Progress
    from trainer.kit.hits import Pedal
    from trainer.kit.model import Kit
    from trainer.midi.hit_source import SourceEvent

LOOK_S = 0.005
QUIET_S = 0.7
"""So long nothing may come before the next question: what still comes answers the last one."""

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
        console.print_lines(learned(kit, source))
    except KeyboardInterrupt:
        console.print_line("Stopped; nothing was changed.")
        return 130
    finally:
        source.close()
    return 0


def learned(kit: Kit, source: MidiSource, told: Progress = untold) -> Iterator[str]:
    """Ask at an open port and keep what was heard; yield the questions and what was found.

    `told` hears every second how long a question still waits.
    """
    ask = Question(kit, source, told)
    pedal = yield from _pedal(ask)
    places = yield from _places(ask, pedal.controller if pedal else None)
    chokes = yield from _chokes(ask)
    found = Controllers(pedal, places, chokes)
    yield f"Kept in {kits.save(replace(kit, controllers=found))}"


@dataclass(frozen=True, slots=True)
class Question:
    """What every question needs: the kit, its port, and who hears how long it still waits."""

    kit: Kit
    source: MidiSource
    told: Progress

    def heard(self) -> Iterator[SourceEvent]:
        """Yield what arrives for as long as a question waits."""
        began, left = time.perf_counter(), math.inf
        while (now := time.perf_counter() - began) < ASKED_S:
            if (whole := math.ceil(ASKED_S - now)) < left:
                left = whole
                self.told(f"waiting {left} seconds more")
            yield from self.source.poll(now)
            time.sleep(LOOK_S)

    def rest(self) -> None:
        """Let the last answer come to its end, for as long as a question waits at most."""
        began = last = time.perf_counter()
        while (now := time.perf_counter()) - last < QUIET_S and now - began < ASKED_S:
            if any(self.source.poll(now - began)):
                last = now
            time.sleep(LOOK_S)

    def voice(self, note: int) -> str:
        """Return which voice a note is, empty where the kit does not know it."""
        pad = self.kit.pad(note)
        return pad.voice if pad else ""


def _pedal(ask: Question) -> Generator[str, None, Pedal | None]:
    yield "Press the hi-hat pedal down and let it up, five times."
    ear = PedalLearner()
    for one in ask.heard():
        if isinstance(one, Control) and one.kind == "control":
            ear.control(one.number, one.value)
        elif isinstance(one, Strike) and ask.voice(one.note) == "pedal":
            ear.pedal_note()
        found = ear.learned()
        if found:
            ends = f"{found.closed} closed, {found.open} open"
            yield f"  controller {found.controller}: {ends}."
            ask.rest()
            zones = yield from _one_note(ask, found)
            return replace(found, zones=zones)
    yield "  No controller moved: left out."
    return None


def _one_note(ask: Question, pedal: Pedal) -> Generator[str, None, bool]:
    """Ask for the hi-hat closed and open; tell whether only the pedal tells them apart."""
    yield "Strike the hi-hat four times with the pedal down, then four times with it up."
    ear = HiHatNoteLearner(pedal)
    for one in ask.heard():
        if isinstance(one, Strike) and ask.voice(one.note) == "hihat":
            ear.stroke(one.note, one.pedal)
        if ear.enough:
            break
    if not ear.enough:
        yield "  Too few strokes of either kind: the note alone will tell."
    elif ear.one_note():
        yield "  One note for both: the pedal will tell closed from open."
    else:
        yield "  A note for each."
    return ear.one_note()


def _places(ask: Question, pedal: int | None) -> Generator[str, None, dict[str, int]]:
    found: dict[str, int] = {}
    for voice in PLACED:
        ask.rest()
        yield f"Strike the {VOICES[voice].title} eight times, from the middle to the edge."
        ear = PlaceLearner(pedal)
        for one in ask.heard():
            if isinstance(one, Control) and one.kind == "control":
                ear.control(one.number, one.value)
            elif isinstance(one, Strike) and ask.voice(one.note) == voice:
                ear.stroke()
            if ear.enough:
                break
        number = ear.learned()
        if number is None:
            yield "  It does not tell the place: left out."
        else:
            yield f"  controller {number}."
            found[voice] = number
    return found


def _chokes(ask: Question) -> Generator[str, None, tuple[int, ...]]:
    ask.rest()
    yield "Strike each cymbal and grab it, twice."
    grabbed: dict[int, int] = {}
    for one in ask.heard():
        if isinstance(one, Control) and one.kind == "choke" and one.value:
            grabbed[one.number] = grabbed.get(one.number, 0) + 1
            if grabbed[one.number] == CHOKE_TIMES:
                voice = ask.voice(one.number)
                yield f"  choke of {f'{voice}, ' if voice else ''}note {one.number}."
    found = tuple(note for note, times in sorted(grabbed.items()) if times >= CHOKE_TIMES)
    if not found:
        yield "  No choke was told: left out."
    return found
