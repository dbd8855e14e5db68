"""`trainer kit`: which pad is which, what the kit sends twice, and how late it is.

Without a screen, learning, watching and measuring print lines of text.
"""

from __future__ import annotations

import time
from contextlib import ExitStack, contextmanager
from itertools import count
from typing import TYPE_CHECKING

from trainer import console, settings
from trainer.actions import kit_measuring
from trainer.actions.kit_setup import keep_learned
from trainer.errors import BadInput
from trainer.kit import kits
from trainer.kit.learning import Learning
from trainer.midi.keyboard import TerminalKeys
from trainer.midi.kit_input import MidiSource
from trainer.show import kit_words

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace
    from collections.abc import Callable, Iterator

    from trainer.actions.kit_measuring import KitProgress
    from trainer.actions.kit_setup import KeptKit
    from trainer.kit.hits import Strike
    from trainer.kit.learning import LearningStep
    from trainer.kit.model import Kit
    from trainer.midi.midi_message import Message


LONGEST_LISTENING_S = 86_400.0


def options(parser: ArgumentParser) -> None:
    """Add the actions and their options."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    actions.add_parser("list", help="your kits, and the one that ships")
    check = actions.add_parser("check", help="one page: what is set, missing, and looks wrong")
    check.add_argument("name", nargs="?", metavar="NAME", help="a kit (default: the one in use)")
    learn = actions.add_parser("learn", help="strike each pad in turn and keep its note")
    learn.add_argument("name", metavar="NAME", help="a name for the kit")
    watch = actions.add_parser("watch", help="every message as it arrives, in words and bytes")
    watch.add_argument("--kit", default="", metavar="NAME", help="read notes through this kit")
    survey = actions.add_parser("survey", help="measure doubles, crosstalk and power")
    survey.add_argument("name", metavar="NAME", help="one of your kits")
    controllers = actions.add_parser("controllers", help="learn pedal, strike places and chokes")
    controllers.add_argument("name", metavar="NAME", help="one of your kits")
    for one in (learn, watch):
        one.add_argument("--plain", action="store_true", help="lines of text, no screen")
    for one in (learn, watch, survey, controllers):
        one.add_argument("--port", default="", metavar="NAME", help="the kit's MIDI input")
    watch.add_argument("--seconds", type=float, metavar="S", help="stop after so long")
    survey.add_argument(
        "--seconds", type=float, default=60.0, metavar="S", help="how long (default: 60)"
    )
    survey.add_argument("--no-power", action="store_true", help="without soft and hard strokes")
    latency = actions.add_parser("latency", help="how late the kit is: measure it, or set it")
    latency.add_argument("name", metavar="NAME", help="one of your kits")
    latency.add_argument("--set", dest="value", type=float, metavar="MS", help="set it by hand")
    latency.add_argument(
        "--session", metavar="FILE", help="measure from this session (default: the newest)"
    )
    latency.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    latency.add_argument("--out", metavar="NAME", help="with a cable from this output...")
    latency.add_argument("--port", default="", metavar="NAME", help="...to this input")
    latency.add_argument("--keep", action="store_true", help="save the result in the kit")


def run(args: Namespace) -> int:
    """Do what the action says; without one, show the kits, as text where there is no terminal."""
    if args.action is None and console.has_screen():
        from trainer.commands import on_screen
        from trainer.screens.kit import KitsScreen

        return on_screen.show(KitsScreen(settings.load().kit))
    _check_seconds(getattr(args, "seconds", None))
    return {
        None: _list,
        "list": _list,
        "check": _check,
        "learn": _learn,
        "watch": _watch,
        "survey": _survey,
        "controllers": _controllers,
        "latency": _latency,
    }[args.action](args)


def _check_seconds(seconds: float | None) -> None:
    if seconds is not None and not 1 <= seconds <= LONGEST_LISTENING_S:
        raise BadInput(
            f"{seconds:g} seconds is out of range",
            where="--seconds",
            fix=f"choose 1 to {LONGEST_LISTENING_S:g}",
        )


def _list(_: Namespace) -> int:
    for name in kits.names():
        try:
            kit = kits.load(name)
            ports = f", on {', '.join(kit.ports)}" if kit.ports else ""
            console.print_line(f"{name}: {kit.title}{ports}")
        except BadInput as fault:
            console.print_warning(str(fault))
    return 0


def _check(args: Namespace) -> int:
    from trainer.kit.survey import check_page

    kit = kits.load(args.name or settings.load().kit or "general-midi")
    console.print_lines(check_page(kit, kits.kits_on_same_port(kit)))
    return 0


def _learn(args: Namespace) -> int:
    """Learn a kit; what was learned is saved however it ends."""
    from trainer.show.kit_words import kept_lines

    kits.check_name(args.name)
    if console.has_screen() and not args.plain:
        from trainer.commands import on_screen
        from trainer.screens.kit_learning import LearnScreen

        # Opened before anything is drawn, so that a wrong port is reported in words.
        screen = LearnScreen.of_port(args.name, args.port)
        try:
            on_screen.show(screen)
        finally:
            kept = screen.finish()
    else:
        kept = learn(args.name, args.port)
    console.print_lines(kept_lines(kept))
    return 0 if kept.path else 1


def _watch(args: Namespace) -> int:
    """Watch until the player leaves, or for so many seconds."""
    if console.has_screen() and not args.plain:
        from trainer.commands import on_screen
        from trainer.screens.kit import WatchScreen

        screen = WatchScreen.of_port(args.port, args.kit, args.seconds)
        try:
            return on_screen.show(screen)
        finally:
            screen.monitor.close()

    watch(args.port, kits.load(args.kit) if args.kit else None, args.seconds)
    return 0


def _survey(args: Namespace) -> int:
    """Measure doubles, crosstalk and power, and write them into the kit."""

    survey(kits.load_own(args.name), args.port, args.seconds, power=not args.no_power)
    return 0


def _controllers(args: Namespace) -> int:
    """Learn pedal, places and chokes in turn, and write what the kit sends into it."""

    return learn_controllers(kits.load_own(args.name), args.port)


def _latency(args: Namespace) -> int:
    from trainer.actions import kit_setup
    from trainer.show import kit_words

    changes = args.keep or args.value is not None
    kit = kits.load_own(args.name) if changes else kits.load(args.name)
    if args.value is not None:
        return _keep(kit, kits.with_latency(kit, args.value, "--set").latency_s)
    if args.out:
        loop = kit_setup.measure_loop(args.out, args.port)
        console.print_lines(kit_words.loop_lines(loop))
        return _keep(kit, loop.way_s or 0.0) if args.keep else 0
    folder = settings.existing_recordings_folder(args.recordings)
    request = kit_setup.LatencyRequest(args.name, folder, args.session, to_keep=args.keep)
    measured = kit_setup.measure_latency(request)
    console.print_lines(kit_words.latency_lines(measured))
    return _keep(kit, measured.found.median_s) if args.keep else 0


def _keep(kit: Kit, latency_s: float) -> int:
    from trainer.actions.kit_setup import keep_latency
    from trainer.show.kit_words import kept_latency_words

    path = keep_latency(kit, latency_s)
    console.print_line(kept_latency_words(kit, latency_s, path))
    return 0


PRINTED_EVERY = 10
"""So much progress, in seconds, between two lines about it."""


def watch(port: str, kit: Kit | None, seconds: float | None) -> None:
    """Print every message as it arrives; without a kit, read through the one of the port."""
    source = MidiSource(port)
    last: list[float] = []

    def overheard(message: Message, time_s: float) -> None:
        since = f"{1000 * (time_s - last[0]):+9.1f} ms" if last else " " * 12
        last[:] = [time_s]
        words = kit_words.message_words(message, kit or kits.kit_for_port(source.name))
        row = f"{since}  {kit_words.message_bytes(message):<9} {words}"
        console.print_line(f"{row:<64} {kit_words.velocity_bar(message)}".rstrip())

    source.overheard = overheard
    with _listening(source):
        console.print_line(f"Listening to {source.name}. Ctrl-C ends.")
        for _ in _strikes(source, seconds):
            pass


def learn(name: str, port: str) -> KeptKit:
    """Name each pad in turn; what was learned is saved however it ends."""
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
    """Learn pedal, strike places and chokes in turn; return the exit status."""
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
