"""The options of all commands that play, and the setup and the text that they choose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.playing_on import PAD_COMMANDS
from trainer.actions.requests import ClickRequest, PlayedOn, Setup

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


@dataclass(frozen=True, slots=True)
class TextOptions:
    """How a session is shown in text: always so, with every stroke, or as JSON at its end alone."""

    plain: bool = False
    every_hit: bool = False
    json: bool = False

    @property
    def wanted(self) -> bool:
        """True where text is chosen, or nothing else can be had."""
        return self.plain or self.every_hit or self.json or not console.has_screen()


def add_kit_options(parser: ArgumentParser) -> None:
    """Add the options that say what is played on."""
    add = parser.add_argument
    add(
        "--port",
        default="",
        metavar="NAME",
        help="the kit: a unique part of a MIDI input's name; or keys, or simulated",
    )
    add("--kit", metavar="NAME", help="a kit by name or file (default: this port's)")
    add("--latency", type=float, metavar="MS", help="how late the kit is, in ms")
    add(
        "--thru",
        default="",
        metavar="NAME",
        help="let your strokes sound at a MIDI output, as General MIDI drums; how late they leave "
        "is said at the end, and what the sound module adds comes on top",
    )
    add("--seed", type=int, default=1, metavar="N", help="with --port simulated: which take")
    add("--fast", action="store_true", help="with --port simulated: at once, as text")
    add(
        "--pad-key",
        action="append",
        default=[],
        metavar="PAD=COMMAND",
        help=f"let a pad (a drum or a MIDI note) act as a key: {', '.join(PAD_COMMANDS)}. A pad "
        "of the pattern acts in pauses, rests and count-ins, any other pad always",
    )


def add_tempo_options(parser: ArgumentParser, *, minutes: bool = False) -> None:
    """Add the options of practice at one tempo, with `minutes` that of a length in time."""
    parser.add_argument(
        "--tempo", type=float, metavar="BPM", help="default: the pattern's own tempo"
    )
    length = parser.add_mutually_exclusive_group()
    length.add_argument("--passes", type=int, metavar="N", help="times through the pattern")
    if minutes:
        length.add_argument(
            "--minutes",
            type=float,
            metavar="M",
            help="as many whole passes as fit into this time, one at least",
        )


def add_session_options(parser: ArgumentParser) -> None:
    """Add the options of every session, and how it is shown."""
    add = parser.add_argument
    add("--count-in", type=int, default=1, metavar="BARS", help="bars counted in (default: 1)")
    add(
        "--silent-bars",
        metavar="BARS",
        help="bars without a click: 1/4 is the last of every 4, 1-3/4 then the last 2, then 3; "
        "30%% is three bars in ten, nobody knows which. In a ladder they continue at the next rung",
    )
    add("--strict", metavar="LEVEL", help="what counts as clean: loose, solid (default) or tight")
    add("--player", default="", metavar="LABEL", help="your name, saved with the session")
    add("--recordings", metavar="DIR", help="where sessions are saved")
    add("--plain", action="store_true", help="lines of text instead of the screen")
    add("--every-hit", action="store_true", help="with --plain: a line for every stroke")
    add("--json", action="store_true", help="print only the summary, as JSON")


def add_click_options(parser: ArgumentParser) -> None:
    """Add the options of the click."""
    add = parser.add_argument
    add(
        "--out",
        default="",
        metavar="NAME",
        help="the click: part of an output's name, or audio",
    )
    add("--click-note", type=int, metavar="NOTE", help="MIDI note of the click")
    add("--click-channel", type=int, metavar="N", help="MIDI channel of the click, 1 to 16")
    add("--click-sound", metavar="SOUND", help="with --out audio: wood, tick or tone")
    add("--click-volume", type=float, metavar="V", help="with --out audio: 0 to 1 (default: 0.8)")
    add("--send-clock", default="", metavar="NAME", help="send MIDI clock to this output")
    add(
        "--click-parts",
        type=_number_or_text,
        default=1,
        metavar="N",
        help="clicks to a beat (default: 1); 1x4,4x4 is one for 4 bars, then four for 4 bars",
    )
    add("--click-on", metavar="BEATS", help="click on these beats alone: 2,4")
    add(
        "--click-accents",
        metavar="BEATS",
        help="accented beats: 1,3; or groups of beats: 3+3+2; or none",
    )
    add("--click-late", metavar="VALUE", help="click this much after the beat: 1/8 is an eighth")
    add(
        "--click-swing",
        metavar="PERCENT",
        help="with --click-parts 2: the first click's share of a pair, 50 (even) to 75",
    )


def _number_or_text(text: str) -> int | str:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 4 else text


def setup_of(args: Namespace) -> Setup:
    """Return the setup that the options of a kit, a session and a click choose."""
    played_on = PlayedOn(
        args.port, args.kit, args.latency, tuple(args.pad_key), args.seed, args.fast, args.thru
    )
    click = ClickRequest(
        args.out,
        args.click_note,
        args.click_channel,
        args.click_sound,
        args.click_volume,
        args.send_clock,
        args.click_parts,
        args.click_on,
        args.click_accents,
        args.click_late,
        args.click_swing,
    )
    return session_setup(args, played_on, click)


def session_setup(args: Namespace, played_on: PlayedOn, click: ClickRequest) -> Setup:
    """Return a setup with what the options of a session say."""
    return Setup(
        played_on,
        click,
        args.count_in,
        args.silent_bars,
        args.strict,
        args.player,
        args.recordings,
    )


def text_of(args: Namespace) -> TextOptions:
    """Return how a session is shown in lines of text, should it be."""
    return TextOptions(args.plain, args.every_hit, args.json)
