"""`trainer timing`: how far times measured on this machine can be trusted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.results import saved_words

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
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


def run(args: Namespace) -> int:
    """Measure this machine and say what can be trusted."""
    from trainer.actions.json_documents import timing_document
    from trainer.actions.timing import (
        TimingRequest,
        check_report_place,
        measure_timing,
        write_timing_report,
    )
    from trainer.show.kit_words import timing_lines

    request = TimingRequest(args.seconds, args.out, args.port, terminal=not args.json)
    request.check()
    check_report_place(args.report)
    if not args.json:
        console.print_line(f"Measuring for {args.seconds:g} s; leave the machine as when you play.")
    document = timing_document(measure_timing(request))
    if args.json:
        console.print_json(document)
    else:
        console.print_lines(timing_lines(document))
    if args.report:
        saved = write_timing_report(args.report, document)
        if not args.json:
            console.print_line(saved_words(saved, args.report))
    return 0
