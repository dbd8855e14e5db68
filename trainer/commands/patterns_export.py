"""`trainer patterns export`: a pattern as a MIDI file, MusicXML or tab."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import console, file_system
from trainer.errors import BadInput
from trainer.pattern import library
from trainer.pattern.description import losses

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from trainer.pattern.model import Pattern


def options(actions: Any) -> None:
    """Add the action to those of `trainer patterns`."""
    parser = actions.add_parser(
        "export",
        help="write a pattern as MIDI file, MusicXML or tab",
        description="Write a pattern as MIDI file, MusicXML or tab. " + _carried(),
    )
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


def _carried() -> str:
    """Return in words what each format can carry."""
    from trainer.kit.model import GENERAL_MIDI
    from trainer.kit.voices import VOICES, place_text

    notes = {voice: GENERAL_MIDI.note(voice, "") for voice in VOICES}
    unheard = [voice for voice, note in notes.items() if note is None]
    lost = [
        place_text(voice.name, zone)
        for voice in VOICES.values()
        for zone in voice.zones[1:]
        if GENERAL_MIDI.note(voice.name, zone) == notes[voice.name] and voice.name not in unheard
    ]
    return (
        "MusicXML and tab carry all that a pattern says. A MIDI file has no place for its "
        f"description, tags and level, nor a note for {', '.join(lost)}: those become the ordinary "
        f"place of their drum. A pattern with {', '.join(unheard)} is refused. What is lost is "
        "told after the export."
    )


def _midi(pattern: Pattern) -> bytes:
    from trainer.pattern.formats.midi_write import to_midi

    return to_midi(pattern)


def _musicxml(pattern: Pattern) -> bytes:
    from trainer.pattern.formats.musicxml_write import to_musicxml

    return to_musicxml(pattern).encode()


def _tab(pattern: Pattern) -> bytes:
    from trainer.pattern.formats.tab_file import to_tab_file

    return to_tab_file(pattern).encode()


_WRITERS: dict[str, tuple[str, Callable[[Pattern], bytes]]] = {
    ".mid": ("A MIDI file", _midi),
    ".midi": ("A MIDI file", _midi),
    ".musicxml": ("MusicXML", _musicxml),
    ".xml": ("MusicXML", _musicxml),
    ".txt": ("Tab", _tab),
}


def _export(args: argparse.Namespace) -> int:
    from dataclasses import replace

    from trainer.practice.course import check_tempo

    output: Path = args.output
    ending = output.suffix.lower()
    if ending not in _WRITERS:
        raise BadInput(
            f"an export ends in {', '.join(_WRITERS)}", where=str(output), mend="rename it"
        )
    pattern = library.load_pattern(args.pattern)
    if args.tempo is not None:
        pattern = replace(pattern, tempo=check_tempo(args.tempo))
    name, writer = _WRITERS[ending]
    file_system.write_file(output, writer(pattern))
    console.print_line(f"written: {output}")
    _tell_losses(pattern, output, name)
    return 0


def _tell_losses(pattern: Pattern, output: Path, name: str) -> None:
    """Read the file back and say what it has lost."""
    try:
        lost = losses(pattern, library.load_pattern(str(output)))
    except BadInput as fault:  # the longest patterns make files larger than are read
        console.print_warning(f"What the file may have lost is not known. {fault}")
        return
    if lost:
        console.print_warning(f"{name} cannot carry {_listed(lost)}.")


def _listed(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
