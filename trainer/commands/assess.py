"""`trainer assess`: check a take that was recorded elsewhere, or a saved session."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.errors import BadInput

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

OTHER_LATENCY = "“trainer replay SESSION --latency MS” reads it again with another one"
AUTO = "auto"


def options(parser: ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument("take", help="a Standard MIDI File, or a saved session (.jsonl)")
    parser.add_argument("--pattern", metavar="P", help="what was played: a pattern's name or file")
    parser.add_argument(
        "--tempo",
        metavar="BPM",
        help="the tempo, or auto to take it from the strokes (default: the file's, if it fits)",
    )
    parser.add_argument(
        "--start",
        metavar="SECONDS",
        default=AUTO,
        help="when the first beat falls, or auto (default)",
    )
    parser.add_argument(
        "--kit", metavar="NAME", help="the kit it was played on, by name or file (default: as set)"
    )
    parser.add_argument("--latency", type=float, metavar="MS", help="how late the kit is, in ms")
    parser.add_argument("--json", action="store_true", help="every stroke and the summary as JSON")
    parser.add_argument("--full", action="store_true", help="as text, with every figure")


def run(args: Namespace) -> int:
    """Check the take and print what was found."""
    path = Path(args.take)
    if path.suffix.lower() == ".jsonl":
        return _session(path, args)
    if args.pattern is None:
        return _which(path, args)
    from trainer.actions.assess import AssessRequest, assess_take

    request = AssessRequest(
        path,
        args.pattern,
        tempo=_number(args.tempo, "--tempo"),
        trust_file=args.tempo != AUTO,
        start_s=_number(args.start, "--start"),
        kit=args.kit,
        latency_ms=args.latency,
    )
    from trainer.show.assess_words import assess_step_words

    def report(step: str, strokes: int) -> None:
        console.print_passing(assess_step_words(step, strokes))

    try:
        found = assess_take(request, report)
    finally:
        console.print_passing("")
    if args.json:
        from trainer.actions.json_documents import assessed_document

        console.print_json(assessed_document(found))
    else:
        from trainer.show.assess_words import assessed_lines
        from trainer.show.reading_words import reading_lines

        console.print_words(assessed_lines(found))
        console.print_words(reading_lines(found.summary, full=args.full))
    return 0


def _which(path: Path, args: Namespace) -> int:
    """Print which patterns a take fits, where none was named."""
    from trainer.actions.recognise import RecogniseRequest, recognise

    found = recognise(RecogniseRequest(path, kit=args.kit, latency_ms=args.latency))
    if args.json:
        from trainer.actions.pattern_documents import recognised_document

        console.print_json(recognised_document(found))
    else:
        from trainer.show.pattern_words import recognised_lines

        console.print_lines(recognised_lines(found))
    return 0 if found.guesses else 1


def _number(text: str | None, where: str) -> float | None:
    """Return a number as typed, None for one that is to be found."""
    if text in (None, AUTO):
        return None
    try:
        value = float(text or "")
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadInput(f'"{text}" is no number', where=where, fix='give a number or "auto"')
    return value


def _session(path: Path, args: Namespace) -> int:
    """Check a saved session again: its own pattern, passes and kit, the numbers of its replay."""
    from trainer.actions.replay import replay_file

    given = {
        "--pattern": args.pattern is not None,
        "--tempo": args.tempo is not None,
        "--start": args.start != AUTO,
        "--latency": args.latency is not None,
    }
    for option in (name for name, chosen in given.items() if chosen):
        raise BadInput(
            f"a saved session knows its own, so {option} cannot be changed",
            where=path.name,
            fix=OTHER_LATENCY if option == "--latency" else f"leave {option} out",
        )
    opened = replay_file(path)
    if args.json:
        from trainer.actions.json_documents import session_document

        console.print_json(session_document(opened))
    else:
        from trainer.show.session_words import session_lines

        console.print_words(session_lines(opened.session, opened.summary, full=args.full))
    return 0
