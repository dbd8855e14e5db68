"""The options of the click, for all commands that play: where it goes and how it sounds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import settings
from trainer.errors import BadInput

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.midi.click import Click
    from trainer.midi.clock_out import ClockOut
    from trainer.pattern.model import Pattern

MOST_PARTS = 8
MIDI_ONLY = ("click_note", "click_channel")
AUDIO_ONLY = ("click_sound", "click_volume")


def options(parser: ArgumentParser) -> None:
    """Add the options of the click."""
    add = parser.add_argument
    add("--out", metavar="NAME", help="the click: a part of a MIDI output's name, or audio")
    add("--click-note", type=int, metavar="NOTE", help="MIDI note of the click")
    add("--click-channel", type=int, metavar="N", help="MIDI channel of the click, 1 to 16")
    add("--click-sound", metavar="SOUND", help="with --out audio: wood, tick or tone")
    add("--click-volume", type=float, metavar="V", help="with --out audio: 0 to 1 (default: 0.8)")
    add("--send-clock", metavar="NAME", help="MIDI output that a MIDI clock is sent to")
    add("--click-parts", type=int, default=1, metavar="N", help="clicks to a beat (default: 1)")


def choose(args: Namespace) -> Click:
    """Return the click asked for, not opened yet; silent where no output is named."""
    from trainer.midi.click import SilentClick

    out = args.out or settings.load().click
    _check_fit(args, out)
    if not out:
        return SilentClick()
    return _audio(args) if out == "audio" else _midi(args, out)


def clock_out(args: Namespace, pattern: Pattern) -> ClockOut | None:
    """Return the MIDI clock to send along, not opened yet."""
    wanted = getattr(args, "send_clock", None)
    if not wanted:
        return None
    from trainer.midi.clock_out import ClockOut

    return ClockOut(pattern, wanted)


def parts(args: Namespace) -> int:
    """Return how many clicks there are to a beat."""
    if not 1 <= args.click_parts <= MOST_PARTS:
        raise BadInput(
            f"{args.click_parts} clicks to a beat is out of range",
            where="--click-parts",
            mend=f"choose 1 to {MOST_PARTS}",
        )
    wanted: int = args.click_parts
    return wanted


def _check_fit(args: Namespace, out: str) -> None:
    """Refuse what would change nothing: options of another kind of click, or of none."""
    for name in MIDI_ONLY + AUDIO_ONLY:
        given = getattr(args, name) is not None
        if given and (not out or (name in AUDIO_ONLY) != (out == "audio")):
            raise BadInput(
                "this changes nothing here",
                where=f"--{name.replace('_', '-')}",
                mend="it goes with --out audio"
                if name in AUDIO_ONLY
                else "it goes with --out NAME",
            )


def _audio(args: Namespace) -> Click:
    from trainer.midi.click import AudioClick

    sound = args.click_sound or "wood"
    volume = 0.8 if args.click_volume is None else args.click_volume
    return AudioClick(sound, volume)


def _midi(args: Namespace, out: str) -> Click:
    from trainer.midi.click import ClickOut, ClickSound

    chosen: dict[str, int] = {}
    if args.click_note is not None:
        chosen |= {"note": args.click_note, "accent_note": args.click_note}
        chosen |= {"sub_note": args.click_note}
    if args.click_channel is not None:
        chosen["channel"] = args.click_channel
    return ClickOut(out, ClickSound(**chosen))
