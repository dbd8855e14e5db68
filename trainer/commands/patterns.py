"""`trainer patterns`: browse, list, show, make, check and compose patterns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer import console
from trainer.checked import nearest, shortened
from trainer.commands import patterns_browse, patterns_export
from trainer.errors import BadInput, Faults
from trainer.pattern import library
from trainer.pattern.language import changes
from trainer.pattern.library import PatternFilter

if TYPE_CHECKING:
    import argparse

    from trainer.pattern.library import PatternEntry
    from trainer.pattern.model import Pattern


def options(parser: argparse.ArgumentParser) -> None:
    """Add what to do with patterns, and with which."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    parser.set_defaults(act=patterns_browse.browse, pattern="", port="", words=[])
    patterns_browse.options(actions)
    listing = actions.add_parser("list", help="list patterns, filtered by what they train")
    listing.add_argument("words", nargs="*", help="only those with these words in name or title")
    listing.add_argument("--tag", action="append", default=[], help="only those with this tag")
    listing.add_argument("--level", type=int, choices=range(1, 6), help="only this level, 1 to 5")
    listing.add_argument("--limb", choices=("RH", "LH", "RF", "LF"), help="only those that use it")
    listing.add_argument("--json", action="store_true", help="as one JSON document")
    listing.set_defaults(act=_list)
    patterns_export.options(actions)
    show = actions.add_parser("show", help="print a pattern as tab with its sticking")
    show.add_argument("pattern", help='a name or a file, also with changes: "flam-tap feet=samba"')
    show.add_argument("--json", action="store_true", help="as one JSON document")
    _add_changes(show, "change")
    show.set_defaults(act=_show)
    make = actions.add_parser("make", help="build a pattern from options and print its file")
    _add_changes(make, "write")
    make.add_argument("--save", metavar="NAME", help="save it in your own folder instead")
    make.set_defaults(act=_make)
    check = actions.add_parser("check", help="tell every fault of pattern files, with its place")
    check.add_argument("files", nargs="+", metavar="FILE", help="a name or a file")
    check.set_defaults(act=_check)
    language = actions.add_parser("language", help="print all that a pattern file may say")
    language.set_defaults(act=_language)


def run(args: argparse.Namespace) -> int:
    """Do what was asked for."""
    status: int = args.act(args)
    return status


def entry_document(entry: PatternEntry) -> dict[str, Any]:
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


def _add_changes(parser: argparse.ArgumentParser, verb: str) -> None:
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


def _changes(args: argparse.Namespace) -> dict[str, str]:
    given = ((key, getattr(args, key.replace("-", "_"))) for key in changes.PLACES)
    return {key: value for key, value in given if value is not None}


def _list(args: argparse.Namespace) -> int:
    entries = library.catalogue()
    _check_tags(args.tag, entries)
    wanted = PatternFilter(tuple(args.words), tuple(args.tag), args.level, args.limb or "")
    found = [entry for entry in entries if wanted.fits(entry)]
    if args.json:
        console.print_json({"patterns": [entry_document(entry) for entry in found]})
        return 0
    width = max((len(entry.name) for entry in found), default=0)
    for entry in found:
        note = f"! {entry.fault}" if entry.fault else entry.title
        console.print_line(f"{entry.name:<{width}}  {entry.level}  {note}")
    console.print_line(f"{len(found)} pattern{'' if len(found) == 1 else 's'}")
    return 0


def _check_tags(wanted: list[str], entries: list[PatternEntry]) -> None:
    """Refuse a tag that no pattern has, with the nearest one or all there are."""
    known = sorted({tag for entry in entries for tag in entry.tags})
    for tag in wanted:
        if tag not in known:
            raise BadInput(f'no pattern has the tag "{shortened(tag)}"', mend=nearest(tag, known))


def _show(args: argparse.Namespace) -> int:
    from trainer.commands import patterns_show
    from trainer.pattern import description
    from trainer.pattern.formats import tab

    pattern = library.load_pattern(args.pattern + changes.written(_changes(args)))
    if args.json:
        console.print_json(patterns_show.document(pattern))
    else:
        console.print_lines(description.description_lines(pattern))
        console.print_line()
        console.print_lines(tab.to_tab(pattern))
    return 0


def _make(args: argparse.Namespace) -> int:
    from trainer.pattern import description
    from trainer.pattern.language import changes, notation
    from trainer.toml_write import toml_text

    table = changes.in_reference_order(changes.applied({}, _changes(args)))
    pattern = notation.read(table, args.save or "new")
    text = toml_text(table)
    if not args.save:
        console.print_line(text.rstrip("\n"))
        return 0
    path = library.save_pattern(args.save, text)
    console.print_line(f"saved {path}: {description.size_words(pattern)}")
    return 0


def _check(args: argparse.Namespace) -> int:
    from trainer.pattern import description
    from trainer.pattern.description import demand

    faults: list[BadInput] = []
    for name in args.files:
        try:
            pattern = library.load_pattern(name)
            _check_playable(name, pattern)
        except Faults as several:
            faults += several.faults
        except BadInput as fault:
            faults.append(fault)
        else:
            console.print_line(f"{name}: no faults, {description.size_words(pattern)}")
            console.print_lines(f"{name}: warning: {one}" for one in demand(pattern).warnings)
    if faults:
        raise Faults(faults)
    return 0


def _check_playable(name: str, pattern: Pattern) -> None:
    """Refuse what playing would refuse, in the same words."""
    from trainer.pattern.json_data import check_playable

    try:
        check_playable(pattern)
    except BadInput as fault:
        raise fault.at(name) from None


def _language(_: argparse.Namespace) -> int:
    from trainer.pattern.language import notation

    console.print_line((notation.__doc__ or "").rstrip("\n"))
    return 0
