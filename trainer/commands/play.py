"""`trainer play`: practise a pattern on a kit, on the computer keys, or let it be simulated."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import settings
from trainer.commands import clicking, playing
from trainer.errors import BadInput
from trainer.practice.events import COMMAND_NAMES

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.engine.job import Job
    from trainer.kit.model import Kit
    from trainer.midi.hit_source import HitSource
    from trainer.pattern.model import Pattern
    from trainer.practice.plan import TempoPlan

NO_PORT = ("keys", "simulated")
"""Makers of hits that are no MIDI port."""

FAST_PASSES = 4
"""Passes played in simulated time where nobody says how many."""

PAD_COMMANDS = tuple(name for name in COMMAND_NAMES if name not in ("tempo", "key"))


def options(parser: ArgumentParser) -> None:
    """Add the options of practice."""
    parser.add_argument(
        "pattern", metavar="PATTERN", help="a pattern's name, or a pattern or MIDI file"
    )
    kit_options(parser)
    playing.tempo_options(parser)
    playing.options(parser)
    clicking.options(parser)
    parser.add_argument(
        "--follow", metavar="NAME", help="follow the MIDI clock of an input (part of its name)"
    )


def kit_options(parser: ArgumentParser) -> None:
    """Add the options that say what is played on."""
    add = parser.add_argument
    add(
        "--port",
        default="",
        metavar="NAME",
        help="the kit: a unique part of a MIDI input's name; or keys, or simulated",
    )
    add("--kit", metavar="NAME", help="a kit by name or file (default: the one of this port)")
    add("--latency", type=float, metavar="MS", help="how late the kit is, in ms")
    add("--seed", type=int, default=1, metavar="N", help="with --port simulated: which evening")
    add("--fast", action="store_true", help="with --port simulated: in simulated time, as text")
    add(
        "--pad-key",
        action="append",
        default=[],
        metavar="PAD=COMMAND",
        help=f"let a pad (a voice or a MIDI note) act as a key: {', '.join(PAD_COMMANDS)}. A pad "
        "that the pattern does not use acts at any time, one that it uses in pauses, rests and "
        "count-ins, both on the screens before and after playing; next goes on from a pause and "
        "from a summary, and steps through lists",
    )


def run(args: Namespace) -> int:
    """Practise."""
    from trainer.pattern.library import load_pattern

    pattern = load_pattern(args.pattern)
    tempo = playing.tempo(args, pattern)
    # In simulated time nobody would ever get to stop it.
    passes = playing.passes(args, FAST_PASSES if args.fast else None)
    kit = kit_of(args)
    played, plan = timed(args, source(args, kit), pattern, tempo, passes)
    return playing.play(job_of(args, pattern, kit, plan, played), args, passes, tempo)


def timed(
    args: Namespace, source: HitSource, pattern: Pattern, tempo: float, passes: int | None
) -> tuple[HitSource, TempoPlan]:
    """Return the source and the plan: of one steady tempo, or led by an outside clock."""
    from trainer.practice.plan import SteadyPlan

    if not args.follow:
        return source, SteadyPlan(tempo, passes, playing.count_in(args))
    from trainer.midi.clock_in import FollowingSource
    from trainer.practice.plan import FollowPlan

    led = FollowingSource(source, args.follow)
    return led, FollowPlan(pattern, led.follower, tempo, passes, playing.count_in(args))


def job_of(args: Namespace, pattern: Pattern, kit: Kit, plan: TempoPlan, played: HitSource) -> Job:
    """Return the job of playing a pattern by a plan, with everything else as the options say."""
    return playing.make_job(
        args,
        pattern,
        kit,
        plan,
        played,
        clicking.choose(args),
        playing.live_options(args, pad_keys(args.pad_key, kit)),
        simulated_time(args),
    )


def kit_of(args: Namespace) -> Kit:
    """Return the kit that is asked for, else the one set, else the one that owns the port."""
    from trainer.kit import kits
    from trainer.kit.model import GENERAL_MIDI

    named = args.kit or settings.load().kit
    if args.port in NO_PORT:
        found = kits.load(named) if named else GENERAL_MIDI
    else:
        from trainer.commands.awaiting import await_kit
        from trainer.midi import port_names, ports

        here = ports.inputs() if args.json else await_kit(args.port)
        port = port_names.pick_port(here, args.port)
        found = kits.load(named) if named else kits.kit_for_port(port.title)
        # In full from here on, as it is told and found again: a part may fit another port later.
        args.port = port.label
    return kits.with_latency(found, args.latency)


def simulated_time(args: Namespace) -> bool:
    """Return True where simulated time is asked for; only a simulated player can keep up."""
    if args.fast and args.port != "simulated":
        raise BadInput(
            "simulated time needs a simulated player", where="--fast", mend="add --port simulated"
        )
    fast: bool = args.fast
    return fast


def source(args: Namespace, kit: Kit) -> HitSource:
    """Return the maker of hits that is asked for, not opened yet."""
    if args.port == "keys":
        from trainer.midi.keyboard import KeySource

        return KeySource(offer=True)
    if args.port == "simulated":
        from trainer.midi.simulated_player import SimulatedPlayer

        return SimulatedPlayer(kit, args.seed)
    from trainer.midi.kit_input import MidiSource

    return MidiSource(args.port)


def pad_keys(given: list[str], kit: Kit) -> dict[int, str]:
    """Return the command each MIDI note stands for; a voice means all its notes."""
    found = dict(kit.pad_keys)
    for one in given:
        pad, _, command = one.partition("=")
        notes = [note for note, meant in kit.notes.items() if meant.voice == pad]
        if pad.isdecimal() and int(pad) <= 127:
            notes = [int(pad)]
        if not notes or command not in PAD_COMMANDS:
            raise BadInput(
                f'"{one}" names no pad and command',
                where="--pad-key",
                mend=f"write for instance crash=restart; commands: {', '.join(PAD_COMMANDS)}",
            )
        found |= dict.fromkeys(notes, command)
    return found
