"""The parts of `trainer kit` that listen: watching, learning, and measuring what a kit does."""

from __future__ import annotations

import math
import time
from collections import Counter
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from itertools import count
from typing import TYPE_CHECKING

from trainer import console
from trainer.console import keys_can_be_read
from trainer.errors import BadInput
from trainer.kit import kits
from trainer.kit.hits import Strike
from trainer.kit.learning import LEARNING_REMARKS, Learning, place_name
from trainer.kit.survey import power_curve, stroke_velocities, survey_strikes
from trainer.midi.keyboard import TerminalKeys
from trainer.midi.kit_input import MidiSource
from trainer.show import message_words

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Generator, Iterator

    from trainer.kit.learning import LearningStep as Lesson
    from trainer.kit.model import Kit
    from trainer.kit.survey import Survey
    from trainer.midi.midi_message import Message

    Progress = Callable[[str], object]

LOOK_S = 0.005
STRENGTHS = ("soft", "normal", "hard")
STRENGTH_SECONDS = 15.0


def untold(_text: str) -> None:
    """Say nothing of how far it is."""


def watch(args: Namespace) -> int:
    """Tell every message as it arrives."""
    kit = kits.load(args.kit) if args.kit else None
    source = MidiSource(args.port)
    last: list[float] = []

    def overheard(message: Message, time_s: float) -> None:
        since = f"{1000 * (time_s - last[0]):+9.1f} ms" if last else " " * 12
        last[:] = [time_s]
        words = message_words.message_words(message, kit or kits.kit_for_port(source.name))
        row = f"{since}  {message_words.message_bytes(message):<9} {words}"
        console.print_line(f"{row:<64} {message_words.velocity_bar(message)}".rstrip())

    source.overheard = overheard
    with _listening(source):
        console.print_line(f"Listening to {source.name}. Ctrl-C ends.")
        for _ in _strikes(source, args.seconds):
            pass
    return 0


def learn(args: Namespace) -> int:
    """Ask for each pad in turn; what was learned is saved however it ends."""
    kits.check_name(args.name)
    source = MidiSource(args.port)
    with _listening(source), ExitStack() as stack:
        learning = Learning(args.name, source.name, known=kits.own_kit(args.name))
        keys = stack.enter_context(TerminalKeys()) if keys_can_be_read() else None
        console.print_line(f"Learning {source.name}. Strike what is asked for, four times.")
        if learning.known.own:
            console.print_line("What this kit knows already stays, unless a place is learned anew.")
        console.print_line("The kick, once known, is a key: once to skip, twice to go back.")
        if keys:
            console.print_line("Or type s to skip, b to go back, q to end.")
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
        console.print_lines(
            surveyed(kit, source, args.seconds, power=not args.no_power, told=_by_tens())
        )
    return 0


def surveyed(
    kit: Kit, source: MidiSource, seconds: float, *, power: bool = True, told: Progress = untold
) -> Iterator[str]:
    """Measure a kit at an open port and keep it; yield what to play and what was found.

    `told` hears every second how long is left and what has come.
    """
    yield (
        f"For {seconds:g} seconds play single strokes, one pad after another, at ordinary "
        "strength: at least a quarter of a second apart, a dozen on each pad."
    )
    found = survey_strikes(_gathered(source, seconds, kit, told), kit)
    yield from _survey_lines(found)
    kit = replace(kit, rules=found.rules(), surveyed=True)
    yield f"Kept in {kits.save(kit)}"
    if power:
        kit = yield from _with_power(kit, source, told)
        yield f"Kept in {kits.save(kit)}"


def _with_power(kit: Kit, source: MidiSource, told: Progress) -> Generator[str, None, Kit]:
    """Ask for soft, normal and hard strokes and return the kit with the curves they give."""
    heard = []
    for strength in STRENGTHS:
        yield f"Now {STRENGTH_SECONDS:g} seconds of {strength} strokes, all pads in turn."
        strikes = _heard(source, STRENGTH_SECONDS, kit, told)
        if not strikes:
            yield f"No {strength} strokes came: power is left as it was."
            return kit
        heard.append(stroke_velocities(strikes, kit))
    power = dict(kit.power)
    for pad in heard[1]:
        curve = power_curve(*(one.get(pad, []) for one in heard))
        if curve:
            power[pad] = curve
        else:
            yield f"{place_name(pad)}: soft, normal and hard do not differ; left as it is."
    return replace(kit, power=power)


@contextmanager
def _listening(source: MidiSource) -> Iterator[None]:
    source.open(time.perf_counter())
    try:
        yield
    except KeyboardInterrupt:
        console.print_line()
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
            console.print_line(f"{source.name} {source.trouble}." if gone else "It is back.")
        yield now, made
        time.sleep(LOOK_S)


def _gathered(source: MidiSource, seconds: float, kit: Kit, told: Progress) -> list[Strike]:
    """Return the strikes of some seconds; raises BadInput where there are none."""
    found = _heard(source, seconds, kit, told)
    if not found:
        raise BadInput(
            f"nothing came from {source.name}",
            mend="strike a pad and look with trainer kit watch whether anything arrives",
        )
    return found


def _heard(source: MidiSource, seconds: float, kit: Kit, told: Progress) -> list[Strike]:
    found: list[Strike] = []
    left = math.inf
    for now, made in _strikes(source, seconds):
        found += made
        if (whole := math.ceil(seconds - now)) < left:
            left = whole
            told(f"{left} seconds left   {_counts(found, kit)}")
    return found


def _by_tens() -> Progress:
    """Return what tells every tenth bit of progress, for lines of text."""
    heard = count()

    def tell(text: str) -> None:
        if next(heard) % 10 == 0:
            console.print_line(f"  {text}".rstrip())

    return tell


def _counts(strikes: list[Strike], kit: Kit) -> str:
    """Return how many strokes have come from each pad, the last one first."""
    names = [place_name(pad) if (pad := kit.pad(one.note)) else "?" for one in strikes]
    counts = Counter(reversed(names))
    return ", ".join(f"{name} {count}" for name, count in counts.items())


def _tell(told: list[Lesson]) -> None:
    for one in told:
        place = place_name(one.pad) if one.pad else ""
        if one.kind == "ask":
            console.print_line(f"Strike the {place}.")
        elif one.kind == "heard":
            console.print_line(f"  note {one.note}")
        elif one.kind == "learned":
            console.print_line(f"  {place}: note {one.note}.")
        elif one.kind == "shared" and one.other:
            other = place_name(one.other)
            console.print_line(
                f"  {place} sends note {one.note}, as the {other} does: they cannot be told apart. "
                "Give one of them another note in the module, if it can."
            )
        elif one.kind in LEARNING_REMARKS:
            console.print_line(f"  {LEARNING_REMARKS[one.kind]}")


def keep(learning: Learning) -> int:
    """Save what was learned and say where; return the exit status."""
    if not learning.notes:
        console.print_line("Nothing was learned, so nothing is kept.")
        return 1
    path = kits.save(learning.kit)
    learned = len(learning.notes)
    console.print_line(f"{learned} note{'s' * (learned != 1)} learned, kept in {path}")
    name = learning.kit.name
    console.print_line(f"Next: trainer kit controllers {name}, and trainer kit survey {name}")
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
