"""The parts of `trainer kit` that listen: watching, learning, and measuring what a kit does."""

from __future__ import annotations

import time
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer import report
from trainer.commands.following import keys_can_be_read
from trainer.errors import BadInput
from trainer.kit import kits
from trainer.kit.hits import Strike
from trainer.kit.learning import Learning, place_words
from trainer.kit.survey import power_curve, survey, velocities
from trainer.midi import describe
from trainer.midi.listener import MidiSource
from trainer.midi.terminal_keys import TerminalKeys

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterator

    from trainer.kit.learning import Told
    from trainer.kit.note_map import Kit
    from trainer.kit.survey import Survey
    from trainer.midi.wire import Message

LOOK_S = 0.005
STRENGTHS = ("soft", "normal", "hard")
STRENGTH_SECONDS = 15.0


def watch(args: Namespace) -> int:
    """Tell every message as it arrives."""
    kit = kits.load(args.kit) if args.kit else None
    source = MidiSource(args.port)
    last: list[float] = []

    def overheard(message: Message, time_s: float) -> None:
        since = f"{1000 * (time_s - last[0]):+9.1f} ms" if last else " " * 12
        last[:] = [time_s]
        words = describe.in_words(message, kit or kits.for_port(source.name))
        row = f"{since}  {describe.in_bytes(message):<9} {words}"
        report.say(f"{row:<64} {describe.velocity_bar(message)}".rstrip())

    source.overheard = overheard
    with _listening(source):
        report.say(f"Listening to {source.name}. Ctrl-C ends.")
        for _ in _strikes(source, args.seconds):
            pass
    return 0


def learn(args: Namespace) -> int:
    """Ask for each pad in turn; what was learned is saved however it ends."""
    kits.check_name(args.name)
    source = MidiSource(args.port)
    with _listening(source), ExitStack() as stack:
        learning = Learning(args.name, source.name)
        keys = stack.enter_context(TerminalKeys()) if keys_can_be_read() else None
        report.say(f"Learning {source.name}. Strike what is asked for, four times.")
        report.say("The kick, once known, is a key: once to skip, twice to go back.")
        if keys:
            report.say("Or type s to skip, b to go back, q to end.")
        _tell(learning.begin())
        for now, made in _strikes(source):
            for one in made:
                _tell(learning.strike(one))
            _tell(learning.settle(now))
            for key in keys.read() if keys else "":
                _tell({"s": learning.skip, "b": learning.back}.get(key, list)())
                if key == "q":
                    return keep(learning)
            if learning.done:
                break
    return keep(learning)


def survey_kit(args: Namespace) -> int:
    """Measure doubles, crosstalk and power, and write them into the kit."""
    kit = kits.load(args.name)
    source = MidiSource(args.port)
    with _listening(source):
        report.say(
            f"For {args.seconds:g} seconds play single strokes, one pad after another, at ordinary "
            "strength: at least a quarter of a second apart, a dozen on each pad."
        )
        found = survey(_gathered(source, args.seconds), kit)
        report.lines(_survey_lines(found))
        kit = replace(kit, rules=found.rules())
        if not args.no_power:
            kit = _with_power(kit, source)
    report.say(f"Kept in {kits.save(kit)}")
    return 0


def _with_power(kit: Kit, source: MidiSource) -> Kit:
    """Ask for soft, normal and hard strokes and return the kit with the curves they give."""
    heard = []
    for strength in STRENGTHS:
        report.say(f"Now {STRENGTH_SECONDS:g} seconds of {strength} strokes, all pads in turn.")
        heard.append(velocities(_gathered(source, STRENGTH_SECONDS), kit))
    power = dict(kit.power)
    for pad in heard[1]:
        curve = power_curve(*(one.get(pad, []) for one in heard))
        if curve:
            power[pad] = curve
        else:
            report.say(f"{place_words(pad)}: soft, normal and hard do not differ; left as it is.")
    return replace(kit, power=power)


@contextmanager
def _listening(source: MidiSource) -> Iterator[None]:
    source.open(time.perf_counter())
    try:
        yield
    except KeyboardInterrupt:
        report.say()
    finally:
        source.close()


def _strikes(
    source: MidiSource, seconds: float | None = None
) -> Iterator[tuple[float, list[Strike]]]:
    """Yield (now, strikes since the last look) again and again; says once when the kit is gone."""
    began, gone = time.perf_counter(), False
    while seconds is None or time.perf_counter() - began < seconds:
        now = time.perf_counter() - began
        made = [one for one in source.poll(now) if isinstance(one, Strike)]
        if source.lost != gone:
            gone = source.lost
            report.say(f"{source.name} is gone; plug it in again." if gone else "It is back.")
        yield now, made
        time.sleep(LOOK_S)


def _gathered(source: MidiSource, seconds: float) -> list[Strike]:
    found = [one for _, made in _strikes(source, seconds) for one in made]
    if not found:
        raise BadInput(
            f"nothing came from {source.name}",
            mend="strike a pad and look with trainer kit watch whether anything arrives",
        )
    return found


def _tell(told: list[Told]) -> None:
    for one in told:
        place = place_words(one.pad) if one.pad else ""
        if one.kind == "ask":
            report.say(f"Strike the {place}.")
        elif one.kind == "heard":
            report.say(f"  note {one.note}")
        elif one.kind == "learned":
            report.say(f"  {place}: note {one.note}.")
        elif one.kind == "shared" and one.other:
            other = place_words(one.other)
            report.say(
                f"  {place} sends note {one.note}, as the {other} does: they cannot be told apart. "
                "Give one of them another note in the module, if it can."
            )
        elif one.kind == "unclear":
            report.say("  These strokes do not agree on a note. Strike only this pad, evenly.")


def keep(learning: Learning) -> int:
    """Save what was learned and say where; return the exit status."""
    if not learning.notes:
        report.say("Nothing was learned, so nothing is kept.")
        return 1
    path = kits.save(learning.kit)
    report.say(f"{len(learning.notes)} notes learned, kept in {path}")
    name = learning.kit.name
    report.say(f"Next: trainer kit controllers {name}, and trainer kit survey {name}")
    return 0


def _survey_lines(found: Survey) -> Iterator[str]:
    for voice, one in found.doubles.items():
        yield (
            f"{voice}: {one.times} double triggers in {one.strokes} strokes, at most "
            f"{one.longest_s * 1000:.0f} ms later and {100 * one.loudest:.0f} % as loud."
        )
    for (struck, shaken), one in found.crosstalk.items():
        yield (
            f"{struck} shakes {shaken}: {one.times} times in {one.strokes} strokes, at most "
            f"{100 * one.loudest:.0f} % as loud."
        )
    if not found.doubles and not found.crosstalk:
        yield "No double triggers and no crosstalk."
