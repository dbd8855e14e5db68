"""`trainer timing`: how far times measured on this machine can be trusted."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import console
from trainer.errors import BadInput
from trainer.file_system import write_file

if TYPE_CHECKING:
    import argparse

    from trainer.engine.timing_check import LoopbackFigures

LONGEST_S = 60.0


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command."""
    add = parser.add_argument
    add("--seconds", type=float, default=15.0, metavar="S", help="how long (default: 15)")
    add("--out", default="", metavar="NAME", help="MIDI output that is led back into --port")
    add("--port", default="", metavar="NAME", help="MIDI input that --out is led back into")
    add("--json", action="store_true", help="print one JSON document")
    add(
        "--report",
        type=Path,
        metavar="FILE",
        help="also write what is useful to know about this machine, to send to the developers: "
        "versions, MIDI systems, the names of ports, and the figures",
    )


def run(args: argparse.Namespace) -> int:
    """Measure this machine and say what can be trusted."""
    from trainer.engine import timing_check
    from trainer.midi.timing import trusted_ms
    from trainer.screens import terminal

    _check(args)
    if not args.json:
        console.print_line(
            f"Measuring for {args.seconds:g} seconds; leave the machine as when you play."
        )
    wakes = timing_check.measure_wakes(args.seconds / 3)
    loop, why_not = _loop(args)
    screen = None if args.json else terminal.terminal_delays()
    seen = loop.off if loop else wakes
    step_s = loop.step_s if loop else 0.0
    trusted = max(trusted_ms(step_s, True, seen), round((seen.share(0.99) or 0.0) * 1e3, 3))
    found: dict[str, Any] = {
        "wakes_late": wakes.to_dict(),
        "loop": loop.to_dict() if loop else None,
        "no_loop": why_not,
        "terminal": screen.to_dict() if screen else None,
        "trusted_ms": trusted,
    }
    if args.json:
        console.print_json(found)
    else:
        console.print_lines(words(found))
    if args.report:
        _write_report(args.report, found)
        if not args.json:
            console.print_line(f"Report: {args.report}")
    return 0


def _write_report(path: Path, found: dict[str, Any]) -> None:
    """Write a report about this machine; raises BadInput where the file cannot be written."""
    from trainer.engine.timing_report import timing_report

    write_file(path, (json.dumps(timing_report(found), indent=2) + "\n").encode())


def words(found: dict[str, Any]) -> list[str]:
    """Return the figures in words, the verdict last."""
    lines = [f"The program is woken {_spread(found['wakes_late'])} late."]
    loop = found["loop"]
    if loop:
        lines += _loop_words(loop)
    else:
        lines.append(f"Stamps and click were not measured: {found['no_loop']}")
    if found["terminal"]:
        lines.append(f"The terminal takes {_spread(found['terminal'])} to take in a line.")
    return [*lines, *_verdict(found)]


def _loop_words(loop: dict[str, Any]) -> list[str]:
    lines = [
        f"A click is sent {_spread(loop['sent_late'])} after it is due.",
        f"Stamps of strokes through {loop['system']} are {_spread(loop['stamps_off'])} off; "
        f"{loop['lost']} of {loop['sent']} notes were lost.",
    ]
    if loop["step_ms"]:
        lines.append(f"They come in steps of {loop['step_ms']:.2g} ms.")
    return lines


def _verdict(found: dict[str, Any]) -> list[str]:
    trusted = found["trusted_ms"]
    if not found["loop"]:
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


COARSE_MS = 3.0
"""Above this a good player's spread (some 10 ms, or less) begins to drown in the machine's own."""


def _spread(figures: dict[str, Any]) -> str:
    if figures["median_ms"] is None:
        return "an unknown time"
    return (
        f"{figures['median_ms']:.2f} ms (99 of 100 within {figures['p99_ms']:.2f}, "
        f"worst {figures['worst_ms']:.2f})"
    )


def _loop(args: argparse.Namespace) -> tuple[LoopbackFigures | None, str | None]:
    """Send notes round a loop; where there is none, say why. A loop asked for must be there."""
    from trainer.engine import timing_check

    try:
        with timing_check.Loopback(args.out, args.port) as loop:
            return loop.run(args.seconds * 2 / 3), None
    except BadInput as fault:
        if args.out:
            raise
        return None, str(fault)


def _check(args: argparse.Namespace) -> None:
    if not 1.0 <= args.seconds <= LONGEST_S:
        raise BadInput(
            f"{args.seconds:g} seconds is out of range",
            where="--seconds",
            mend=f"choose 1 to {LONGEST_S:g}",
        )
    if args.report and not args.report.absolute().parent.is_dir():
        raise BadInput(
            "there is no such folder", where=str(args.report.parent), mend="choose another place"
        )
    if bool(args.out) != bool(args.port):
        raise BadInput(
            "a loop has two ends",
            where="--out and --port",
            mend="name both, or neither for a loop inside the MIDI system",
        )
