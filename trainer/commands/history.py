"""`trainer history`: the sessions so far, the time spent, and where the numbers are going."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.archive import ceilings
from trainer.archive.history import (
    choose_sessions,
    histories_by_pattern,
    histories_by_player,
    history_document,
    player_names,
    start_of_period,
)
from trainer.archive.recovery import recover
from trainer.archive.session_list import list_sessions
from trainer.settings import existing_recordings_folder
from trainer.show.number_words import count_text
from trainer.show.session_words import date_words, duration_words, tempo_words, trend_words

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator, Sequence
    from datetime import date

    from trainer.archive.ceilings import Climb
    from trainer.archive.history import PatternHistory
    from trainer.archive.session_list import SessionEntry, SessionListing

LATEST = 20
CEILINGS = 8


def options(parser: argparse.ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument("pattern", nargs="?", help="a pattern's name or a part of it")
    parser.add_argument("--player", metavar="NAME", help="only sessions of this player")
    parser.add_argument("--since", metavar="TIME", help="30d, 6w, 3m, 1y or a date")
    parser.add_argument("--all", action="store_true", help=f"list more than the latest {LATEST}")
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--json", action="store_true", help="everything as JSON")
    parser.add_argument("--plain", action="store_true", help="lines of text instead of the screen")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="draw tempos and ceilings")


def run(args: argparse.Namespace) -> int:
    """Show the history."""
    now = datetime.now().astimezone()
    start = start_of_period(args.since, now) if args.since else None
    folder = existing_recordings_folder(args.recordings)
    if console.has_screen() and not (args.plain or args.all or args.json or args.svg):
        return _screen(args, folder, start)
    listing = finish_cut_off(folder)
    entries = choose_sessions(
        listing.entries, pattern=args.pattern, player=args.player, start=start
    )
    climbs = ceilings.climbs(entries)
    if args.svg:
        _draw(entries, args.svg, now.date())
    elif args.json:
        console.print_json(history_document(entries, ceilings.ceilings_document(climbs, now)))
    elif entries:
        console.print_lines(_lines(entries, None if args.all else LATEST))
        console.print_lines(_ceiling_lines(climbs if args.all else climbs[-CEILINGS:], now))
    else:
        console.print_line(f"No session fits in {folder}.")
    for fault in listing.faults:
        console.print_warning(str(fault))
    return 0


def _screen(args: argparse.Namespace, folder: Path, start: datetime | None) -> int:
    """Show the history on the screen, and replay what is chosen there, until the player leaves."""
    from trainer.commands import replay
    from trainer.screens.history import HistoryApp

    def look(told: Callable[[int], None]) -> tuple[Sequence[SessionEntry], Sequence[str]]:
        listing = list_sessions(folder, told)
        found = recover(folder, listing)
        again = list_sessions(folder) if found else listing
        return again.entries, [*map(str, found), *map(str, again.faults)]

    while True:
        app = HistoryApp(look, folder, args.pattern, args.player, start)
        chosen = app.run()
        if chosen is None:
            return app.return_code or 0
        replay.show(chosen)


def _draw(entries: Sequence[SessionEntry], path: Path, today: date) -> None:
    """Write the picture, in place of an older one."""
    from trainer.show import svg
    from trainer.show.history_picture import history

    svg.save_picture(path, history(entries, today))
    console.print_line(f"written: {path}")


def finish_cut_off(folder: Path) -> SessionListing:
    """Finish what a crash cut off, say so, and return the folder's sessions."""
    listing = list_sessions(folder)
    found = recover(folder, listing)
    for one in found:
        console.print_warning(str(one))
    return list_sessions(folder) if found else listing


def _lines(entries: Sequence[SessionEntry], most: int | None) -> Iterator[str]:
    total = sum(entry.seconds for entry in entries)
    yield (
        f"{_count(entries)}, {duration_words(total)} of playing,"
        f" from {date_words(entries[0].started)} to {date_words(entries[-1].started)}."
    )
    if len(names := player_names(entries)) > 1:
        yield f"Several players are in it: {', '.join(names)}. --player NAME shows one of them."
    for history in histories_by_pattern(entries):
        yield ""
        yield from _pattern_lines(history)
    yield ""
    shown = entries if most is None else entries[-most:]
    yield "Sessions, the latest last:" if len(shown) == len(entries) else f"The latest {most}:"
    yield from (_row(entry) for entry in shown)


def _ceiling_lines(climbs: Sequence[Climb], now: datetime) -> Iterator[str]:
    """Tell the ceilings of some climbs, the one played last at the end."""
    if climbs:
        yield ""
        yield "Ceilings:"
    for climb in climbs:
        found = climb.ceiling(now)
        by = f"{climb.player}, " * bool(climb.player)
        if found:
            yield f"  {climb.title}: {by}{ceilings.ceiling_words(found)}."


def _pattern_lines(history: PatternHistory) -> Iterator[str]:
    yield f"{history.title}: {_come_to(history)}"
    owned = histories_by_player(history)
    if len(owned) == 1:
        yield from (f"  {trend_words(trend)}" for trend in history.trends())
        return
    for name, own in owned:
        yield f"  {name}: {_come_to(own)}"
        yield from (f"    {trend_words(trend)}" for trend in own.trends())


def _come_to(history: PatternHistory) -> str:
    tempos = f", {tempo_words(*history.tempos)}" if history.tempos else ""
    return f"{_count(history.entries)}, {duration_words(history.seconds)}{tempos}"


def _row(entry: SessionEntry) -> str:
    tempos = tempo_words(*entry.tempos) if entry.tempos else "no pass"
    by = f", {entry.player}" if entry.player else ""
    played = entry.empty_words or f"{tempos}, {duration_words(entry.seconds)}"
    when = f"{entry.started:%Y-%m-%d %H:%M}"
    return f"  {when}  {entry.title}, {played}{by}"


def _count(entries: Sequence[SessionEntry]) -> str:
    return count_text(len(entries), "session")
