"""`trainer patterns`: list, show, make and check patterns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer import report
from trainer.pattern import files, tab

if TYPE_CHECKING:
    import argparse

    from trainer.pattern.files import Entry
    from trainer.pattern.model import Pattern


def options(parser: argparse.ArgumentParser) -> None:
    """Add what to do with patterns, and with which."""
    actions = parser.add_subparsers(dest="action", required=True, metavar="ACTION")
    listing = actions.add_parser("list", help="list patterns, filtered by what they train")
    listing.add_argument("words", nargs="*", help="only those with these words in name or title")
    listing.add_argument("--tag", action="append", default=[], help="only those with this tag")
    listing.add_argument("--level", type=int, choices=range(1, 6), help="only this level, 1 to 5")
    listing.add_argument("--limb", choices=("RH", "LH", "RF", "LF"), help="only those that use it")
    listing.add_argument("--json", action="store_true", help="as one JSON document")
    listing.set_defaults(act=_list)
    show = actions.add_parser("show", help="print a pattern as tab with its sticking")
    show.add_argument("pattern", help="a name or a file")
    show.add_argument("--json", action="store_true", help="as one JSON document")
    show.set_defaults(act=_show)


def run(args: argparse.Namespace) -> int:
    """Do what was asked for."""
    status: int = args.act(args)
    return status


def show_document(pattern: Pattern) -> dict[str, Any]:
    """Return the JSON shape of a pattern; beats are quarter notes as exact fractions."""
    return {
        "name": pattern.name,
        "title": pattern.title,
        "meter": str(pattern.meter),
        "beats": str(pattern.length),
        "strokes": pattern.strokes,
        "tempo": pattern.tempo,
        "tags": list(pattern.tags),
        "level": pattern.level,
        "assumed": list(pattern.assumed),
        "notes": [
            {
                "beat": str(note.beat),
                "voice": note.voice,
                "limb": note.limb,
                "level": note.level,
                "zone": note.zone,
                "value": note.value,
                "grace": note.grace,
            }
            for note in pattern.notes
        ],
    }


def entry_document(entry: Entry) -> dict[str, Any]:
    """Return the JSON shape of one line of the list."""
    return {
        "name": entry.name,
        "title": entry.title,
        "tags": list(entry.tags),
        "level": entry.level,
        "limbs": list(entry.limbs),
        "about": entry.about,
        "path": str(entry.path),
        "own": entry.own,
        "fault": entry.fault or None,
    }


def _list(args: argparse.Namespace) -> int:
    found = [entry for entry in files.catalogue() if _wanted(entry, args)]
    if args.json:
        report.as_json({"patterns": [entry_document(entry) for entry in found]})
        return 0
    width = max((len(entry.name) for entry in found), default=0)
    for entry in found:
        note = f"! {entry.fault}" if entry.fault else entry.title
        report.say(f"{entry.name:<{width}}  {entry.level}  {note}")
    report.say(f"{len(found)} patterns")
    return 0


def _wanted(entry: Entry, args: argparse.Namespace) -> bool:
    text = f"{entry.name} {entry.title} {entry.about} {' '.join(entry.tags)}".lower()
    return (
        all(tag in entry.tags for tag in args.tag)
        and args.level in (None, entry.level)
        and (args.limb is None or args.limb in entry.limbs)
        and all(word.lower() in text for word in args.words)
    )


def _show(args: argparse.Namespace) -> int:
    pattern = files.load(args.pattern)
    if args.json:
        report.as_json(show_document(pattern))
        return 0
    report.say(pattern.title)
    if pattern.about:
        report.say(pattern.about)
    bars = len(pattern.bars)
    report.say(
        f"{pattern.meter}, {bars} bar{'s' if bars > 1 else ''}, {pattern.strokes} strokes, "
        f"{pattern.tempo:g} BPM"
    )
    for assumed in pattern.assumed:
        report.say(f"assumed: {assumed}")
    report.say()
    report.lines(tab.write(pattern))
    return 0
