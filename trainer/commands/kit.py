"""`trainer kit`: which pad is which, what the kit sends twice, and how late it is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer import console, settings
from trainer.errors import BadInput
from trainer.kit import kits
from trainer.kit.survey import check_page

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace
    from pathlib import Path

    from trainer.kit.model import Kit
    from trainer.kit.survey import LatencyEstimate

LONGEST_LISTENING_S = 86_400.0
LOOP_S = 5.0


def options(parser: ArgumentParser) -> None:
    """Add the actions and their options."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    actions.add_parser("list", help="your kits, and the one that ships")
    check = actions.add_parser("check", help="one page: what is set, missing, and looks wrong")
    check.add_argument("name", nargs="?", metavar="NAME", help="a kit (default: the one in use)")
    learn = actions.add_parser("learn", help="strike each pad in turn and keep its note")
    learn.add_argument("name", metavar="NAME", help="what the kit is to be called")
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
        "--seconds", type=float, default=60.0, metavar="S", help="of single strokes"
    )
    survey.add_argument("--no-power", action="store_true", help="leave power out")
    latency = actions.add_parser("latency", help="how late the kit is: measure it, or set it")
    latency.add_argument("name", metavar="NAME", help="one of your kits")
    latency.add_argument("--set", dest="value", type=float, metavar="MS", help="set it by hand")
    latency.add_argument(
        "--session", metavar="FILE", help="from this session (default: the newest on this kit)"
    )
    latency.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    latency.add_argument("--out", metavar="NAME", help="measure a loop: this output leads back...")
    latency.add_argument("--port", default="", metavar="NAME", help="...into this input")
    latency.add_argument("--keep", action="store_true", help="write what was measured into the kit")


def run(args: Namespace) -> int:
    """Do what the action says; without one, show the kits, as text where there is no terminal."""
    if args.action is None and console.has_screen():
        from trainer.commands import kit_screens

        return kit_screens.show(run, options)
    if args.action in (None, "list"):
        return _list()
    if args.action == "check":
        kit = kits.load(args.name or settings.load().kit or "general-midi")
        console.print_lines(check_page(kit, kits.kits_on_same_port(kit)))
        return 0
    if args.action == "latency":
        return _latency(args)
    from trainer.commands import kit_controllers, kit_hearing, kit_screens

    _check_seconds(getattr(args, "seconds", None))
    screen = console.has_screen() and not getattr(args, "plain", True)
    return {
        "controllers": kit_controllers.learn_controllers,
        "watch": kit_screens.watch if screen else kit_hearing.watch,
        "learn": kit_screens.learn if screen else kit_hearing.learn,
        "survey": kit_hearing.survey_kit,
    }[args.action](args)


def _check_seconds(seconds: float | None) -> None:
    if seconds is not None and not 1 <= seconds <= LONGEST_LISTENING_S:
        raise BadInput(
            f"{seconds:g} seconds is out of range",
            where="--seconds",
            mend=f"choose 1 to {LONGEST_LISTENING_S:g}",
        )


def _list() -> int:
    for name in kits.names():
        try:
            kit = kits.load(name)
            ports = f", on {', '.join(kit.ports)}" if kit.ports else ""
            console.print_line(f"{name}: {kit.title}{ports}")
        except BadInput as fault:
            console.print_warning(str(fault))
    return 0


def _latency(args: Namespace) -> int:
    kit = kits.load(args.name)
    if args.value is not None:
        return _keep(kit, kits.with_latency(kit, args.value, "--set").latency_s)
    if args.out:
        return _looped(kit, args)
    found, told = measured(kit, args)
    console.print_lines(told)
    return _keep(kit, found.median_s) if args.keep else 0


def _session_of(kit: Kit, args: Namespace) -> Path:
    """Return the session to measure from: as named, else the newest on the kit."""
    from trainer.archive.find_session import find_session, newest_session_on_kit

    folder = settings.existing_recordings_folder(args.recordings)
    path = (
        find_session(folder, args.session)
        if args.session
        else newest_session_on_kit(folder, kit.name)
    )
    if path is None:
        raise BadInput(
            f'no session was played on the kit "{kit.name}"',
            where=str(folder),
            mend=f"play one with --kit {kit.name}, or name another with --session",
        )
    return path


def measured(kit: Kit, args: Namespace) -> tuple[LatencyEstimate, list[str]]:
    """Measure how late the hits of a session came; return it, and what to say of it."""
    from trainer.archive.session_file import open_session
    from trainer.archive.summary import cut_short, judged
    from trainer.kit.survey import estimate_latency

    path = _session_of(kit, args)
    session = cut_short(open_session(path))
    if args.keep and session.kit.name != kit.name:
        raise BadInput(
            f'it was played on the kit "{session.kit.name}"',
            where=path.name,
            mend=f"leave --keep away, or set what you believe with trainer kit latency {kit.name} "
            "--set MS",
        )
    take = judged(session)
    offsets = [take.offset_s(one) for one in range(len(take.targets))]
    # Offsets have the session's own latency taken out; it is put back to measure the whole.
    found = estimate_latency(one + session.kit.latency_s for one in offsets if one is not None)
    if found is None:
        raise BadInput(
            "too few strokes landed to measure a latency",
            where=path.name,
            mend="play forty strokes or more with the click",
        )
    return found, _words(found, path.name, kit.name)


def _looped(kit: Kit, args: Namespace) -> int:
    """Measure the way of notes that are led from an output back into an input."""
    from trainer.engine import timing_check

    with timing_check.Loopback(args.out, args.port) as loop:
        figures = loop.run(LOOP_S)
    if figures.way_s is None:
        raise BadInput(
            "no note came back", where=f"--out {args.out}", mend="lead the output into the input"
        )
    console.print_line(
        f"Notes take {figures.way_s * 1000:.1f} ms from the output back to the input "
        f"({figures.sent - figures.lost} of {figures.sent} came back)."
    )
    console.print_line(
        "That is the way of MIDI; what the module adds between stick and note is not in it."
    )
    return _keep(kit, figures.way_s) if args.keep else 0


def _words(found: LatencyEstimate, session: str, kit: str) -> list[str]:
    return [
        f"In {session} hits came {found.median_s * 1000:+.1f} ms from the click "
        f"(95 %: {found.low_s * 1000:+.1f} to {found.high_s * 1000:+.1f}; "
        f"{found.count} strokes, spread {found.spread_s * 1000:.0f} ms).",
        "That is the kit's lateness and your own habit together; strokes alone cannot tell them "
        "apart. Where you can lead a MIDI output back into the input, measure its way alone with "
        f"trainer kit latency {kit} --out NAME --port NAME --keep.",
    ]


def _keep(kit: Kit, latency_s: float) -> int:
    console.print_line(keep_latency(kit, latency_s))
    return 0


def keep_latency(kit: Kit, latency_s: float) -> str:
    """Write a latency into a kit and return what to say of it."""
    path = kits.save(replace(kit, latency_s=latency_s))
    return f"{kit.name}: latency {latency_s * 1000:.1f} ms, kept in {path}"
