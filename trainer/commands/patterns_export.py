"""`trainer patterns export`: a pattern as a MIDI file, MusicXML or tab."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import plain_file, report
from trainer.errors import BadInput
from trainer.pattern import files

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from trainer.pattern.model import Pattern


def options(actions: Any) -> None:
    """Add the action to those of `trainer patterns`."""
    parser = actions.add_parser("export", help="write a pattern as MIDI file, MusicXML or tab")
    parser.add_argument("pattern", help="a name or a file")
    parser.add_argument(
        "-o",
        "--output",
        required=True,
        type=Path,
        metavar="FILE",
        help="groove.mid, groove.musicxml or groove.txt (tab)",
    )
    parser.add_argument("--tempo", type=float, help="BPM, else the pattern's own")
    parser.set_defaults(act=_export)


def _midi(pattern: Pattern) -> bytes:
    from trainer.pattern.smf_write import to_bytes

    return to_bytes(pattern)


def _musicxml(pattern: Pattern) -> bytes:
    from trainer.pattern.musicxml_write import to_text

    return to_text(pattern).encode()


def _tab(pattern: Pattern) -> bytes:
    from trainer.pattern.tab_file import to_text

    return to_text(pattern).encode()


_WRITERS: dict[str, Callable[[Pattern], bytes]] = {
    ".mid": _midi,
    ".midi": _midi,
    ".musicxml": _musicxml,
    ".xml": _musicxml,
    ".txt": _tab,
}


def _export(args: argparse.Namespace) -> int:
    from dataclasses import replace

    from trainer.practice.course import check_tempo

    output: Path = args.output
    writer = _WRITERS.get(output.suffix.lower())
    if writer is None:
        raise BadInput(
            f"an export ends in {', '.join(_WRITERS)}", where=str(output), mend="rename it"
        )
    pattern = files.load(args.pattern)
    if args.tempo is not None:
        pattern = replace(pattern, tempo=check_tempo(args.tempo))
    plain_file.write(output, writer(pattern))
    report.say(f"written: {output}")
    return 0
