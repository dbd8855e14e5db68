"""`trainer replay`: a saved session again, judged from its raw strikes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.archive.summary import summary_differences, take_document
from trainer.commands.replaying import Shelf, Wanted
from trainer.errors import BadInput
from trainer.settings import existing_recordings_folder
from trainer.show import svg
from trainer.show.session_words import session_lines

if TYPE_CHECKING:
    import argparse
    from typing import Any

    from trainer.archive.session import Session
    from trainer.practice.outcomes import Judged
    from trainer.screens.replay_app import OpenedSession
    from trainer.show.review import Review


def options(parser: argparse.ArgumentParser) -> None:
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
    parser.add_argument("--kit", metavar="NAME", help="read it again through another kit")
    parser.add_argument("--latency", type=float, metavar="MS", help="with another latency, in ms")
    parser.add_argument("--full", action="store_true", help="as text, with every figure")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="draw the hit map")
    parser.add_argument("--summary-svg", metavar="FILE", type=Path, help="draw the summary")


def run(args: argparse.Namespace) -> int:
    """Show a session on the screen, as text, as JSON, or as pictures."""
    wanted = _wanted(args)
    as_text = args.json or args.plain or args.full or args.map or args.svg or args.summary_svg
    if console.has_screen() and not as_text:
        return _show(wanted)
    opened = Shelf(wanted).open(lambda told: None)
    for text in opened.remarks:
        console.print_warning(text)
    if args.svg or args.summary_svg:
        _draw(opened, args.svg, args.summary_svg)
    elif args.json:
        more = {"map": _map(opened.review)} if args.map or args.over else {}
        told = document(opened.path, opened.session, opened.take, opened.summary)
        console.print_json(told | more)
    elif args.map or args.over or wanted.part:
        from trainer.show import hit_map_words

        console.print_lines(hit_map_words.hit_map_lines(_asked(opened.review)))
    else:
        console.print_lines(session_lines(opened.session, opened.summary, full=args.full))
        for text in remarks(opened.session, opened.summary):
            console.print_warning(text)
    return 0


def _wanted(args: argparse.Namespace) -> Wanted:
    part = ("rung", args.rung) if args.rung is not None else ("pass", args.one)
    return Wanted(
        existing_recordings_folder(args.recordings),
        args.session,
        args.over,
        None if part[1] is None else part,
        args.limbs,
        args.kit,
        args.latency,
        args.pattern,
    )


def show(path: Path, kit: str | None = None, latency_ms: float | None = None) -> int:
    """Go through a session on the screen; return the exit status."""
    return _show(Wanted(path.parent, str(path), kit=kit, latency_ms=latency_ms))


def _show(wanted: Wanted) -> int:
    from trainer.screens.replay_app import ReplayApp

    app = ReplayApp(Shelf(wanted))
    app.run()
    if app.fault is not None:
        raise app.fault
    return app.return_code or 0


def _asked(review: Review | None) -> Review:
    if review is None:
        raise BadInput("no pass was begun in this session, so there is no map of it")
    return review


def _map(review: Review | None) -> dict[str, Any]:
    from trainer.show import hit_map_words

    return hit_map_words.hit_map_values(_asked(review))


def _draw(opened: OpenedSession, hit_map: Path | None, summary: Path | None) -> None:
    """Write the pictures, in place of older ones."""
    from trainer.show import hit_map_picture, summary_picture

    for path in filter(None, (hit_map, summary)):
        svg.check_picture_name(path)
    if hit_map:
        svg.save_picture(hit_map, hit_map_picture.hit_map_sheet(_asked(opened.review)))
        console.print_line(f"written: {hit_map}")
    if summary:
        title, *lines = session_lines(opened.session, opened.summary)
        svg.save_picture(summary, summary_picture.summary(title, lines, opened.summary))
        console.print_line(f"written: {summary}")


def document(path: Path, session: Session, take: Judged, summary: dict[str, Any]) -> dict[str, Any]:
    """Return the promised JSON, with who played when and what the file itself says."""
    header = session.header
    return take_document(
        take,
        summary,
        session=path.name,
        started=header.started.isoformat(),
        player=header.player,
        kit=header.kit.name,
        software=header.software,
        finished=session.summary is not None,
        recovered=session.recovered,
        differs=sorted(summary_differences(session.summary, summary)) if session.summary else [],
        passes=[
            {"index": one.index, "tempo": one.tempo, "start_s": one.start_s, "rung": one.rung}
            for one in session.passes
        ],
        rungs=[
            {"index": r.index, "tempo": r.tempo, "clean": r.clean, "failed": list(r.failed)}
            for r in session.rungs
        ],
        marks=[
            {"kind": mark.kind, "time_s": mark.time_s, "reason": mark.reason}
            for mark in session.marks
        ],
    )


def remarks(session: Session, summary: dict[str, Any]) -> list[str]:
    """Return what should be known about the file beside its numbers."""
    if session.summary is None:
        return ["This session was cut off: it is judged up to its last stroke."]
    differing = sorted(summary_differences(session.summary, summary))
    if not differing:
        return []
    return [
        f"Judged again, {len(differing)} numbers differ from those saved at the time"
        f" (the first: {differing[0]}). The file was saved by version {session.header.software}."
    ]
