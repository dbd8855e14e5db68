"""`trainer replay`: a saved session again, judged from its raw strikes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import console
from trainer.actions.replay import NO_MAP, FolderShelf, ReplayRequest
from trainer.errors import BadInput
from trainer.settings import existing_recordings_folder

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.actions.replay import OpenedSession
    from trainer.show.review import Review


def options(parser: ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument(
        "session",
        nargs="?",
        help="a session file, a part of its name (default: the newest), or a recorded take (.mid)",
    )
    parser.add_argument("--pattern", metavar="P", help="what was played in a recorded take")
    parser.add_argument("--over", metavar="SESSION", help="lay it over another of the same pattern")
    part = parser.add_mutually_exclusive_group()
    part.add_argument("--rung", type=int, metavar="N", help="only this rung of the ladder, from 1")
    part.add_argument("--pass", dest="one", type=int, metavar="N", help="only this pass, from 1")
    parser.add_argument("--limbs", action="store_true", help="rows by limb instead of by drum")
    parser.add_argument("--map", action="store_true", help="as text, every cell of the hit map")
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--json", action="store_true", help="every stroke and the summary as JSON")
    parser.add_argument("--plain", action="store_true", help="the summary as text, no screen")
    parser.add_argument("--kit", metavar="NAME", help="read it with another kit")
    parser.add_argument("--latency", type=float, metavar="MS", help="with another latency, in ms")
    parser.add_argument("--full", action="store_true", help="as text, with every figure")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="draw the hit map")
    parser.add_argument("--summary-svg", metavar="FILE", type=Path, help="draw the summary")


def run(args: Namespace) -> int:
    """Show a session on the screen, as text, as JSON, or as pictures."""
    request = _request(args)
    as_text = args.json or args.plain or args.full or args.map or args.svg or args.summary_svg
    if console.has_screen() and not as_text:
        from trainer.commands import on_screen
        from trainer.screens.replay import OpeningScreen

        return on_screen.show(OpeningScreen(FolderShelf(request)))
    opened = FolderShelf(request).open(lambda step: None)
    _print_recovered(opened)
    if args.svg or args.summary_svg:
        _draw(opened, args.svg, args.summary_svg)
    elif args.json:
        console.print_json(_document(opened, with_map=args.map or bool(args.over)))
    elif args.map or args.over or request.part:
        from trainer.show.hit_map_words import hit_map_lines

        console.print_lines(hit_map_lines(_review(opened)))
    else:
        _print(opened, full=args.full)
    return 0


def _request(args: Namespace) -> ReplayRequest:
    part = ("rung", args.rung) if args.rung is not None else ("pass", args.one)
    return ReplayRequest(
        existing_recordings_folder(args.recordings),
        args.session,
        over=args.over,
        part=None if part[1] is None else part,
        by_limb=args.limbs,
        kit=args.kit,
        latency_ms=args.latency,
        pattern=args.pattern,
    )


def _print_recovered(opened: OpenedSession) -> None:
    if opened.recovered:
        from trainer.show.session_words import recovered_words

        for one in opened.recovered:
            console.print_warning(recovered_words(one))


def _document(opened: OpenedSession, *, with_map: bool) -> dict[str, Any]:
    from trainer.actions.json_documents import session_document

    document = session_document(opened)
    if with_map or opened.request.part:
        from trainer.show.hit_map_words import hit_map_values

        values = hit_map_values(_review(opened))
        return document | ({"map": values} if with_map else {})
    return document


def _print(opened: OpenedSession, *, full: bool) -> None:
    from trainer.show.session_words import opened_remarks, session_lines

    console.print_words(session_lines(opened.session, opened.summary, full=full))
    for text in opened_remarks(opened):
        console.print_warning(text)


def _review(opened: OpenedSession) -> Review:
    """Return the review of a session; raises BadInput where there is nothing to look at."""
    from trainer.show.review import review_of

    review = review_of(opened)
    if review is None:
        raise BadInput(NO_MAP, where=opened.path.name)
    return review


def _draw(opened: OpenedSession, hit_map: Path | None, summary: Path | None) -> None:
    """Write the pictures, in place of older ones."""
    from trainer.results import saved_words
    from trainer.show import hit_map_picture, pictures, svg
    from trainer.show.session_words import session_lines

    for path in filter(None, (hit_map, summary)):
        svg.check_picture_name(path)
    if hit_map:
        saved = svg.save_picture(hit_map, hit_map_picture.hit_map_sheet(_review(opened)))
        console.print_line(saved_words(saved, hit_map))
    if summary:
        title, *lines = session_lines(opened.session, opened.summary)
        saved = svg.save_picture(summary, pictures.summary(title, lines, opened.summary))
        console.print_line(saved_words(saved, summary))
