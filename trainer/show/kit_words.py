"""Kits and ports in words: what is found during setup, one MIDI message, and this machine.

A message is shown in words and bytes, to find out what a kit sends; a machine by what is connected
and how far its times can be trusted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.kit.learning import LEARNING_REMARKS, place_name
from trainer.kit.voices import VOICES
from trainer.midi import midi_message
from trainer.midi.timing import signed_ms

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from trainer.actions.kit_measuring import KitProgress, KitStep
    from trainer.actions.kit_setup import KeptKit, LoopLatency, MeasuredLatency
    from trainer.kit.learning import LearningStep
    from trainer.kit.model import Kit
    from trainer.kit.survey import Survey
    from trainer.midi.midi_message import Message
    from trainer.midi.port_names import Port
    from trainer.midi.ports import System


STEPS = {
    "singles": "For {seconds:g} seconds play single strokes, one pad after another, at ordinary "
    "strength: at least a quarter of a second apart, a dozen on each pad.",
    "strength": "Now {seconds:g} seconds of {strength} strokes, all pads in turn.",
    "no strength": "No {strength} strokes came: power is left as it was.",
    "even power": "{place}: soft, normal and hard do not differ; left as it is.",
    "kept": "Kept in {path}",
    "gone": "{name}.",
    "back": "It is back.",
    "press pedal": "Press the hi-hat pedal down and let it up, five times.",
    "no pedal": "  No controller moved: left out.",
    "closed and open": "Strike the hi-hat four times with the pedal down, then four times with it "
    "up.",
    "few hi-hats": "  Too few strokes of either kind: the note alone decides.",
    "one hi-hat note": "  One note for both: the pedal decides whether it is closed or open.",
    "two hi-hat notes": "  A note for each.",
    "strike places": "Strike the {voice} eight times, from the middle to the edge.",
    "no places": "  It does not send where it was struck: left out.",
    "places": "  controller {number}.",
    "grab cymbals": "Strike each cymbal and grab it, twice.",
    "no choke": "  No choke was sent: left out.",
}
"""The words of most kinds of step."""


def step_lines(step: KitStep) -> Iterator[str]:
    """Give a step of measuring a kit in words."""
    if step.survey:
        yield from survey_lines(step.survey)
    elif step.pedal:
        ends = f"{step.pedal.closed} closed, {step.pedal.open} open"
        yield f"  controller {step.pedal.controller}: {ends}."
    elif step.kind == "choke":
        yield f"  choke of {f'{step.name}, ' if step.name else ''}note {step.number}."
    else:
        yield STEPS[step.kind].format(
            seconds=step.seconds,
            strength=step.strength,
            place=place_name(step.pad) if step.pad else "",
            path=step.path,
            name=step.name,
            number=step.number,
            voice=VOICES[step.name].title if step.name in VOICES else step.name,
        )


def progress_words(progress: KitProgress) -> str:
    """Return how long is left, and what has come so far."""
    if progress.question:
        return f"waiting {progress.seconds_left} s more"
    counts = ", ".join(f"{name} {count}" for name, count in progress.counts.items())
    return f"{progress.seconds_left} s left   {counts}".rstrip()


def survey_lines(found: Survey) -> Iterator[str]:
    """Give the doubles and the crosstalk of a kit."""
    for voice, one in found.doubles.items():
        yield (
            f"{voice}: {one.times} double triggers in {one.strokes} strokes, at most "
            f"{one.longest_s * 1000:.0f} ms later and {100 * one.loudest:.0f}% as loud."
        )
    for (struck, shaken), one in found.crosstalk.items():
        yield (
            f"{struck} shakes {shaken}: {one.times} times in {one.strokes} strokes, at most "
            f"{100 * one.loudest:.0f}% as loud."
        )
    if not found.doubles and not found.crosstalk:
        yield "No double triggers and no crosstalk."


def learning_line(step: LearningStep) -> str:
    """Return a step of learning a kit in words, empty where there is nothing to say."""
    place = place_name(step.pad) if step.pad else ""
    if step.kind == "ask":
        return f"Strike the {place}."
    if step.kind == "heard":
        return f"  note {step.note}"
    if step.kind == "learned":
        return f"  {place}: note {step.note}."
    if step.kind == "shared" and step.other:
        return (
            f"  {place} sends note {step.note}, as the {place_name(step.other)} does: they "
            "are one pad to the program. Give one of them another note in the module, if it can."
        )
    return f"  {LEARNING_REMARKS[step.kind]}" if step.kind in LEARNING_REMARKS else ""


def kept_lines(kept: KeptKit) -> Iterator[str]:
    """Say where a kit that was learned is, and what comes next."""
    if kept.path is None:
        yield "Nothing was learned, so nothing is kept."
        return
    yield f"{kept.notes} note{'s' * (kept.notes != 1)} learned, kept in {kept.path}"
    yield f"Next: trainer kit controllers {kept.name}, and trainer kit survey {kept.name}"


def latency_lines(measured: MeasuredLatency) -> Iterator[str]:
    """Say how late the hits of a session came, and what that figure holds."""
    found = measured.found
    yield (
        f"In {measured.session} hits came {signed_ms(found.median_s)} ms from the click "
        f"(95% interval: {signed_ms(found.low_s)} to {signed_ms(found.high_s)}; "
        f"{found.count} strokes, spread {found.spread_s * 1000:.0f} ms)."
    )
    yield (
        "That is the kit's lateness and your own habit together; strokes alone cannot separate "
        "them. Where you can lead a MIDI output back into the input, measure its way alone with "
        f"trainer kit latency {measured.kit.name} --out NAME --port NAME --keep."
    )


def loop_lines(loop: LoopLatency) -> Iterator[str]:
    """Say how long notes took round a loop."""
    takes = (
        "Notes are back sooner than can be measured here"
        if loop.way_s is None
        else f"Notes take {loop.way_s * 1000:.1f} ms from the output back to the input"
    )
    yield f"{takes} ({loop.returned} of {loop.sent} came back)."
    yield "That is the way of MIDI; what the module adds between stick and note is not in it."


def kept_latency_words(kit: Kit, latency_s: float, path: Path) -> str:
    """Return what a kit's latency is now, and where it is kept."""
    return f"{kit.name}: latency {latency_s * 1000:.1f} ms, kept in {path}"


MOST_BYTES = 16
"""The first bytes of a system exclusive message say who made it and what it is about."""

BAR_WIDTH = 16
"""Usual width of the velocity bar: one sign for 8 of 127."""

_SYSTEM = {
    midi_message.SONG_POSITION: "song position",
    midi_message.CLOCK: "clock",
    midi_message.START: "start",
    midi_message.CONTINUE: "continue",
    midi_message.STOP: "stop",
    midi_message.ACTIVE_SENSING: "active sensing",
    midi_message.RESET: "reset",
}
_CHANNEL = {
    midi_message.NOTE_OFF: "note off",
    midi_message.PROGRAM: "program",
    midi_message.CHANNEL_PRESSURE: "channel pressure",
    midi_message.BEND: "pitch bend",
}


def message_words(message: Message, kit: Kit) -> str:
    """Return a message in words: which pad, how hard, which controller."""
    kind = message[0] & 0xF0
    if message[0] == midi_message.SYSEX:
        return f"system exclusive, {len(message)} bytes"
    if message[0] >= midi_message.SYSEX:
        return _SYSTEM.get(message[0], f"system message {message[0]:02X}")
    if kind == midi_message.NOTE_ON and message[2]:
        return f"{_pad(message[1], kit)}, velocity {message[2]}"
    if kind == midi_message.NOTE_ON:
        return f"note off {message[1]} (velocity 0)"
    if kind == midi_message.KEY_PRESSURE:
        return f"choke or pressure {message[2]} on {_pad(message[1], kit)}"
    if kind == midi_message.CONTROL:
        return f"controller {message[1]}{_controller(message, kit)} at {message[2]}"
    return " ".join([_CHANNEL[kind], *map(str, message[1:])])


def message_bytes(message: Message) -> str:
    """Return the bytes of a message as they came, in hexadecimal; of a long one the first few."""
    shown = " ".join(f"{byte:02X}" for byte in message[:MOST_BYTES])
    return f"{shown} ..." if len(message) > MOST_BYTES else shown


def velocity_bar(message: Message, width: int = BAR_WIDTH) -> str:
    """Return a bar as long as a note-on is loud, at most `width`; empty for anything else."""
    if message[0] & 0xF0 != midi_message.NOTE_ON or not message[2]:
        return ""
    full, rest = divmod(message[2] * width * 2 // 127, 2)
    return "█" * full + "▌" * rest


def _pad(note: int, kit: Kit) -> str:
    pad = kit.pad(note)
    return f"{pad.voice} {pad.zone} (note {note})" if pad else f"unknown pad (note {note})"


def _controller(message: Message, kit: Kit) -> str:
    number, pedal = message[1], kit.controllers.pedal
    if pedal and number == pedal.controller:
        return f" (hi-hat pedal, {100 * pedal.opening(message[2]):.0f}% open)"
    if number == midi_message.PEDAL:
        return " (hi-hat pedal)"
    return " (strike position)" if number in midi_message.POSITIONS else ""


COARSE_MS = 3.0
"""Above this a good player's spread (some 10 ms, or less) begins to drown in the machine's own."""


def port_lines(system: System) -> Iterator[str]:
    """Give what is connected, inputs before outputs."""
    several = len(system.apis) > 1
    yield f"MIDI systems: {', '.join(system.apis)}" if several else f"MIDI system: {system.api}"
    yield from system.refused
    yield from _listed("inputs (strokes come from here, --port NAME)", system.inputs, several)
    yield from _listed("outputs (a click can go here, --out NAME)", system.outputs, several)


def _listed(title: str, found: Sequence[Port], several: bool) -> Iterator[str]:
    yield f"{title}:"
    for port in found:
        about = [port.api] * several + ["a loop inside the system, not a kit"] * port.is_loop
        yield f"  {port.label}" + (f"  ({'; '.join(about)})" if about else "")
    if all(port.is_loop for port in found):
        yield "  none; switch the device on, plug it in and look again"


def timing_lines(figures: dict[str, Any]) -> list[str]:
    """Give the figures of `timing_document` in words, the verdict last."""
    lines = [f"The program wakes up late by {_spread(figures['wakes_late'])}."]
    if loop := figures["loop"]:
        lines += _loop_lines(loop)
    else:
        lines.append(f"Stamps and click were not measured: {figures['no_loop']}")
    if figures["terminal"]:
        lines.append(f"The terminal takes {_spread(figures['terminal'])} to take in a line.")
    return [*lines, *_verdict(figures)]


def _loop_lines(loop: dict[str, Any]) -> list[str]:
    lines = [
        f"A click is sent {_spread(loop['sent_late'])} after it is due.",
        f"Stroke times through {loop['system']} are {_spread(loop['stamps_off'])} off; "
        f"{loop['lost']} of {loop['sent']} notes were lost.",
    ]
    if loop["step_ms"]:
        lines.append(f"They come in steps of {loop['step_ms']:.2g} ms.")
    return lines


def _verdict(figures: dict[str, Any]) -> list[str]:
    trusted = figures["trusted_ms"]
    if not figures["loop"]:
        return [f"Nothing is finer than {trusted:.1f} ms here; what MIDI adds is not known."]
    lines = [f"Differences below {trusted:.1f} ms say nothing about your playing on this machine."]
    if trusted > COARSE_MS:
        lines.append(
            "That is coarse. Close other programs, plug the power in, and measure again; "
            "with JACK choose a smaller buffer."
        )
    else:
        lines.append("Spreads and offsets of a few ms can be trusted; averages of many are finer.")
    return lines


def _spread(figures: dict[str, Any]) -> str:
    if figures["median_ms"] is None:
        return "an unknown time"
    return (
        f"{figures['median_ms']:.2f} ms (99 of 100 within {figures['p99_ms']:.2f}, "
        f"worst {figures['worst_ms']:.2f})"
    )
