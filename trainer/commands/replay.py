"""`trainer replay`: a saved session again, judged from its raw strikes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer import report
from trainer.archive.export import take_document
from trainer.archive.find import find
from trainer.archive.store import open_session
from trainer.archive.summary import cut_short, differences, judged, summary_of
from trainer.archive.words import session_lines
from trainer.commands.history import finish_cut_off
from trainer.settings import folder_to_read

if TYPE_CHECKING:
    import argparse
    from pathlib import Path
    from typing import Any

    from trainer.archive.session import Session
    from trainer.practice.outcomes import Judged


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument(
        "session", nargs="?", help="a session file, or a part of its name (default: the newest)"
    )
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--json", action="store_true", help="every stroke and the summary as JSON")
    parser.add_argument("--plain", action="store_true", help="the summary as text, no screen")
    parser.add_argument("--kit", metavar="NAME", help="read it again through another kit")
    parser.add_argument("--latency", type=float, metavar="MS", help="with another latency, in ms")
    parser.add_argument("--full", action="store_true", help="as text, with every figure")


def run(args: argparse.Namespace) -> int:
    """Show a session on the screen, as text, or as JSON."""
    folder = folder_to_read(args.recordings)
    finish_cut_off(folder)
    path = find(folder, args.session)
    if not (args.json or args.plain or args.full) and report.has_screen():
        return show(path, args.kit, args.latency)
    session = read_again(cut_short(open_session(path)), args.kit, args.latency)
    take = judged(session)
    summary = summary_of(session, take)
    if args.json:
        report.as_json(document(path, session, take, summary))
    else:
        report.lines(session_lines(session, summary, full=args.full))
        for text in remarks(session, summary):
            report.warn(text)
    return 0


def read_again(session: Session, kit: str | None, latency_ms: float | None) -> Session:
    """Return the session as its strikes read through another kit or latency, where asked for."""
    if kit is None and latency_ms is None:
        return session
    from trainer.commands.playing import with_latency
    from trainer.kit import kits

    read = with_latency(kits.load(kit) if kit else session.kit, latency_ms)
    # The saved summary was made with the old kit; there is nothing to compare it with.
    return replace(session, header=replace(session.header, kit=read), summary={})


def show(path: Path, kit: str | None = None, latency_ms: float | None = None) -> int:
    """Go through a session on the screen; return the exit status."""
    from trainer.screens.app import make_replay_app

    session = read_again(cut_short(open_session(path)), kit, latency_ms)
    take = judged(session)
    app = make_replay_app(session, take, summary_of(session, take), path)
    app.run()
    return app.return_code or 0


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
        differs=sorted(differences(session.summary, summary)) if session.summary else [],
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
    differing = sorted(differences(session.summary, summary))
    if not differing:
        return []
    return [
        f"Judged again, {len(differing)} numbers differ from those saved at the time"
        f" (the first: {differing[0]}). The file was saved by version {session.header.software}."
    ]
