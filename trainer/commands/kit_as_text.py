"""Learning, watching and measuring a kit in lines of text."""

from __future__ import annotations

import time
from contextlib import ExitStack, contextmanager
from itertools import count
from typing import TYPE_CHECKING

from trainer import console
from trainer.actions import kit_measuring
from trainer.actions.kit_setup import keep_learned
from trainer.kit import kits
from trainer.kit.learning import Learning
from trainer.midi.keyboard import TerminalKeys
from trainer.midi.kit_input import MidiSource
from trainer.show import kit_words, message_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from trainer.actions.kit_measuring import KitProgress
    from trainer.actions.kit_setup import KeptKit
    from trainer.kit.hits import Strike
    from trainer.kit.learning import LearningStep
    from trainer.kit.model import Kit
    from trainer.midi.midi_message import Message

PRINTED_EVERY = 10
"""So much progress, in seconds, between two lines about it."""


def watch(port: str, kit: Kit | None, seconds: float | None) -> None:
    """Print every message as it arrives; without a kit, read through the one of the port."""
    source = MidiSource(port)
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
        for _ in _strikes(source, seconds):
            pass


def learn(name: str, port: str) -> KeptKit:
    """Ask for each pad in turn; what was learned is saved however it ends."""
    source = MidiSource(port)
    with _listening(source), ExitStack() as stack:
        learning = Learning(name, source.name, known=kits.own_kit(name))
        keys = stack.enter_context(TerminalKeys()) if console.keys_can_be_read() else None
        _print_guide(learning, source.name, keys is not None)
        _print(learning.begin())
        for now, strikes in _strikes(source):
            for one in strikes:
                _print(learning.strike(one))
            _print(learning.settle(now))
            typed = keys.read() if keys else ""
            for key in typed:
                _print({"s": learning.skip, "b": learning.back}.get(key, list)())
            if learning.done or "q" in typed:
                break
    return keep_learned(learning)


def _print_guide(learning: Learning, port: str, keys: bool) -> None:
    console.print_line(f"Learning {port}. Strike each pad that is named, four times.")
    if learning.known.own:
        console.print_line("What this kit knows already stays, unless a place is learned again.")
    console.print_line("The kick, once known, is a key: once to skip, twice to go back.")
    if keys:
        console.print_line("Or type s to skip, b to go back, q to end.")


def _print(steps: list[LearningStep]) -> None:
    console.print_lines(filter(None, map(kit_words.learning_line, steps)))


def survey(kit: Kit, port: str, seconds: float, *, power: bool) -> None:
    """Measure doubles, crosstalk and power, and write them into the kit."""
    source = MidiSource(port)
    with _listening(source):
        for step in kit_measuring.survey_kit(
            kit, source, seconds, power=power, report=_every_tenth()
        ):
            console.print_lines(kit_words.step_lines(step))


def learn_controllers(kit: Kit, port: str) -> int:
    """Ask for pedal, strike places and chokes in turn; return the exit status."""
    source = MidiSource(port)
    source.open(time.perf_counter())
    try:
        for step in kit_measuring.learn_controllers(kit, source):
            console.print_lines(kit_words.step_lines(step))
    except KeyboardInterrupt:
        console.print_line("Stopped; nothing was changed.")
        return 130
    finally:
        source.close()
    return 0


@contextmanager
def _listening(source: MidiSource) -> Iterator[None]:
    """Keep a port open; Ctrl-C ends listening and nothing more."""
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
    for heard in kit_measuring.listen(source, seconds):
        if heard.gone is not None:
            console.print_line(f"{source.name} {source.trouble}." if heard.gone else "It is back.")
        yield heard.now_s, heard.strikes


def _every_tenth() -> Callable[[KitProgress], None]:
    """Return what prints every tenth bit of progress."""
    reported = count()

    def report(progress: KitProgress) -> None:
        if next(reported) % PRINTED_EVERY == 0:
            console.print_line(f"  {kit_words.progress_words(progress)}")

    return report
