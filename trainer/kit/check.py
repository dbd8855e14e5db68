"""One page about a kit: what is set, what is missing, and what looks wrong."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from trainer.kit.learning import PLACES, place_words
from trainer.kit.voices import VOICES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.kit.note_map import Kit, Pad

LATE_S = 0.030
"""A kit later than this is unusual: modules and interfaces take some 3 to 20 ms (common practice;
Schultz and van Vugt 2016 measured 9 to 16 ms on one)."""


def page(kit: Kit, rivals: Sequence[str] = ()) -> Iterator[str]:
    """Yield the lines of the page. `rivals` are kits that name a port this one names too."""
    yield f"{kit.title} ({kit.name})"
    yield f"Ports: {', '.join(kit.ports) or 'none named, so it is not taken by itself'}"
    yield f"Latency: {kit.latency_s * 1000:.1f} ms" + ("" if kit.latency_s else ", not set")
    yield ""
    yield "Pads:"
    yield from _pads(kit)
    yield ""
    yield from _rules(kit)
    yield from _controllers(kit)
    yield ""
    faults = list(doubts(kit, rivals))
    yield "What looks wrong:" if faults else "Nothing looks wrong."
    yield from (f"  {fault}" for fault in faults)


def _pads(kit: Kit) -> Iterator[str]:
    by_pad: dict[Pad, list[int]] = defaultdict(list)
    for note, pad in sorted(kit.notes.items()):
        by_pad[pad].append(note)
    for pad, notes in by_pad.items():
        star = "*" if kit.own.intersection(notes) else " "
        numbers = ", ".join(map(str, notes))
        yield f" {star} {place_words(pad):<28} note {numbers}{_curve(kit, pad)}"
    for pad, note in kit.same.items():
        other = kit.notes.get(note)
        as_other = f", as the {place_words(other)} does: they cannot be told apart" if other else ""
        yield f" = {place_words(pad):<28} sends note {note}{as_other}"
    rest = "the rest is General MIDI" if kit.general_midi else "any other note is unknown"
    yield f"  (* learned or written by hand; {rest})"


def doubts(kit: Kit, rivals: Sequence[str] = ()) -> Iterator[str]:
    """Yield what is missing or unlikely, each with what to do."""
    yield from _missing(kit)
    if rivals:
        first = min(*rivals, kit.name)
        yield f"{', '.join(rivals)} names the same port; {first} is taken: choose with --kit NAME"
    if kit.latency_s > LATE_S:
        yield f"{kit.latency_s * 1000:.0f} ms of latency is unusual: measure it with a cable"
    if kit.latency_s < 0:
        yield "The latency is negative: hits cannot arrive before they are played"
    for voice, rule in kit.rules.doubles.items():
        if rule.softer > 0.85:
            yield (
                f"Doubles on the {voice} are nearly as loud as strokes: "
                "raise the pad's threshold or mask time in the module"
            )


def _missing(kit: Kit) -> Iterator[str]:
    """Yield the drums no note stands for, and those that were not learned where others were."""
    known, own = set(kit.notes.values()), {kit.notes[note].voice for note in kit.own}
    drums = [pad for pad in PLACES if next(one for one in PLACES if one.voice == pad.voice) == pad]
    for pad in drums:
        if pad not in known:
            yield f"No note stands for the {place_words(pad)}: trainer kit learn {kit.name}"
    guessed = [VOICES[pad.voice].title for pad in drums if pad in known and pad.voice not in own]
    if own and guessed:
        yield (
            f"Not learned, so read as General MIDI: {', '.join(guessed)} (well if the kit does not "
            f"have them; else trainer kit learn {kit.name}, which keeps what is known)"
        )


def _curve(kit: Kit, pad: Pad) -> str:
    curve = kit.power.get(pad)
    return f", power {curve.soft:g} {curve.normal:g} {curve.hard:g}" if curve else ""


def _controllers(kit: Kit) -> Iterator[str]:
    told = kit.controllers
    if told.pedal:
        ends = f"{told.pedal.closed} closed, {told.pedal.open} open"
        zones = "; it alone tells closed strokes from open ones" if told.pedal.zones else ""
        yield f"Hi-hat pedal: controller {told.pedal.controller}, {ends}{zones}"
    for voice, number in told.places.items():
        yield f"Place of strikes on the {voice}: controller {number}"
    if told.chokes:
        yield f"Chokes: notes {', '.join(map(str, told.chokes))}"
    if not told:
        yield "Controllers: none learned (trainer kit controllers, if the kit has any)"


def _rules(kit: Kit) -> Iterator[str]:
    if not kit.rules and kit.surveyed:
        yield "Filter: none needed, the survey found neither double triggers nor crosstalk"
        return
    if not kit.rules:
        yield "Filter: none; measure it with trainer kit survey"
        return
    yield "Filter:"
    for voice, rule in kit.rules.doubles.items():
        yield f"  {voice}: a softer note within {rule.within_s * 1000:.0f} ms is a double trigger"
    for one in kit.rules.crosstalk:
        yield (
            f"  {one.struck} shakes {one.shaken}: a soft note within "
            f"{one.within_s * 1000:.0f} ms is crosstalk"
        )
