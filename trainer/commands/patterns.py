"""`trainer patterns`: browse, list, show, make, check, export and compose patterns."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import console
from trainer.actions import patterns as actions
from trainer.errors import BadInput, raise_faults
from trainer.pattern import library
from trainer.pattern.language import changes
from trainer.pattern.library import PatternFilter
from trainer.settings import existing_recordings_folder

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add what to do with patterns, and with which."""
    adding = parser.add_subparsers(dest="action", metavar="ACTION")
    parser.set_defaults(act=_browse, pattern="", port="", words=[])
    _screen_options(adding)
    listing = adding.add_parser("list", help="list patterns, filtered by what they train")
    listing.add_argument("words", nargs="*", help="only those with these words in name or title")
    listing.add_argument("--tag", action="append", default=[], help="only those with this tag")
    listing.add_argument("--level", type=int, choices=range(1, 6), help="only this level, 1 to 5")
    listing.add_argument("--limb", choices=("RH", "LH", "RF", "LF"), help="only those that use it")
    listing.add_argument(
        "--by",
        choices=actions.LIST_ORDERS,
        default="family",
        help="in chapters by family (default), level or way; or by name, clean tempo, last played",
    )
    listing.add_argument(
        "--sketch", action="store_true", help="with the drums of each first bar, beat by beat"
    )
    listing.add_argument("--json", action="store_true", help="as one JSON document")
    listing.set_defaults(act=_list)
    _export_options(adding)
    show = adding.add_parser("show", help="print a pattern as tab with its sticking")
    show.add_argument("pattern", help='a name or a file, also with changes: "climb feet=samba"')
    show.add_argument("--json", action="store_true", help="as one JSON document")
    group = _add_changes(show, "change")
    for key, words in changes.TAKEN.items():
        group.add_argument(f"--{key}", metavar=key.upper(), help=words)
    show.set_defaults(act=_show)
    make = adding.add_parser("make", help="build a pattern from options and print its file")
    _add_changes(make, "write")
    make.add_argument("--save", metavar="NAME", help="save it in your own folder instead")
    make.set_defaults(act=_make)
    check = adding.add_parser("check", help="show every fault of pattern files, with its place")
    check.add_argument("files", nargs="+", metavar="FILE", help="a name or a file")
    check.set_defaults(act=_check)
    language = adding.add_parser("language", help="print all that a pattern file may say")
    language.set_defaults(act=_language)


def run(args: Namespace) -> int:
    """Do what was chosen."""
    status: int = args.act(args)
    return status


def _screen_options(adding: Any) -> None:
    browsing = adding.add_parser("browse", help="look through the patterns and choose one")
    browsing.add_argument("words", nargs="*", help="only those with these words")
    browsing.set_defaults(act=_browse)
    composing = adding.add_parser("compose", help="make a pattern in a form, drawn as you type")
    composing.add_argument("pattern", nargs="?", default="", help="a pattern to start from")
    composing.set_defaults(act=_compose)
    for one in (browsing, composing):
        one.add_argument("--port", default="", metavar="NAME", help="the input to play it on")


def _export_options(adding: Any) -> None:
    parser = adding.add_parser(
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
        "reported after the export."
    )


def _add_changes(parser: ArgumentParser, verb: str) -> Any:
    """Add an option for each change and return their group."""
    group = parser.add_argument_group(f"what to {verb}")
    for key in changes.PLACES:
        if key == "back":
            group.add_argument(
                "--back", action="store_const", const="true", help=changes.MEANINGS[key]
            )
        else:
            group.add_argument(
                f"--{key}", metavar=key.upper().replace("-", "_"), help=changes.MEANINGS[key]
            )
    return group


def _changes(args: Namespace) -> dict[str, str]:
    keys = (*changes.PLACES, *changes.TAKEN)
    given = ((key, getattr(args, key.replace("-", "_"), None)) for key in keys)
    return {key: value for key, value in given if value is not None}


def _list(args: Namespace) -> int:
    found = actions.list_patterns(
        PatternFilter(tuple(args.words), tuple(args.tag), args.level, args.limb or "")
    )
    if args.json:
        from trainer.actions.pattern_documents import pattern_list_document

        console.print_json(pattern_list_document(found))
        return 0
    width = max((len(entry.name) for entry in found), default=0)
    for heading, chapter in actions.chapters(found, args.by, existing_recordings_folder()):
        if heading:
            console.print_line(f"\n{heading}")
        for entry in chapter:
            note = f"! {entry.fault}" if entry.fault else entry.title
            console.print_words([f"{entry.name:<{width}}  {entry.level or '-'}  {note}"], width + 5)
            if args.sketch and not entry.fault:
                from trainer.show.pattern_words import sketch_line

                console.print_line(f"  {sketch_line(library.load_pattern(entry.name))}")
    console.print_line(f"{len(found)} pattern{'' if len(found) == 1 else 's'}")
    return 0


def _show(args: Namespace) -> int:
    from trainer.actions.playing_on import kit_ahead
    from trainer.actions.requests import PlayedOn

    name = args.pattern + changes.written(_changes(args))
    kit = kit_ahead(PlayedOn())
    pattern = library.load_pattern(name, kit)
    if args.json:
        from trainer.actions.pattern_documents import pattern_document

        console.print_json(pattern_document(pattern))
        return 0
    from trainer.pattern import description
    from trainer.pattern.formats import tab

    console.print_words(description.description_lines(pattern, without=kit.without))
    console.print_line()
    console.print_lines(tab.to_tab(pattern))
    return 0


def _make(args: Namespace) -> int:
    from trainer.pattern import description

    made = actions.make_pattern(actions.MakeRequest(_changes(args), args.save or ""))
    if made.path is None:
        console.print_line(made.text.rstrip("\n"))
    else:
        console.print_line(f"saved {made.path}: {description.size_words(made.pattern)}")
    return 0


def _check(args: Namespace) -> int:
    from trainer.show.pattern_words import checked_lines

    faults: list[BadInput] = []
    for one in actions.check_patterns(args.files):
        console.print_lines(checked_lines(one))
        faults += one.faults
    raise_faults(faults)
    return 0


def _language(_: Namespace) -> int:
    from trainer.pattern.language import reference

    console.print_line((reference.__doc__ or "").rstrip("\n"))
    return 0


def _export(args: Namespace) -> int:
    from trainer.results import saved_words
    from trainer.show.pattern_words import loss_words

    request = actions.ExportRequest(args.pattern, args.output, args.tempo)
    exported = actions.export_pattern(request)
    console.print_line(saved_words(exported.path, args.output))
    if lost := loss_words(exported):
        console.print_warning(lost)
    return 0


def _browse(args: Namespace) -> int:
    """Look through the patterns."""
    return _show_browser(args.port, wanted=PatternFilter(tuple(args.words)))


def _compose(args: Namespace) -> int:
    """Open the composer, on a pattern or an empty one, with the browser behind it."""
    name = library.find_pattern(args.pattern).stem if args.pattern else ""
    return _show_browser(args.port, at=name, compose_first=True)


def _show_browser(port: str, **begin: Any) -> int:
    """Browse, and play what is chosen, until the player leaves."""
    _check_terminal()
    from trainer.commands import on_screen
    from trainer.screens.patterns import PatternsScreen

    return on_screen.show(PatternsScreen(port=port, **begin))


def _check_terminal() -> None:
    if not console.has_screen():
        raise BadInput("browsing needs a terminal", fix="trainer patterns list prints them as text")
